"""What is broken leads everywhere, however long ago a rule of age was reached: pages, files, command and paper."""

import csv
import io
from datetime import timedelta

import pytest
from django.core.management import call_command
from factories import (
    fit,
    make_depot,
    make_event,
    make_fault,
    make_mat,
    make_reading,
    make_segment,
    make_usage_event,
)
from page_words import words_in

from inspections.assessment.services import assess_pool
from inspections.models import PolicyValue
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db
OLD_DAYS = 3 * 365 + 300


@pytest.fixture
def mat(today):
    """Four cables, all too old: one crushed, one that nothing comes through, one measured sound, one never measured."""
    mat = make_mat("M-004", depot=make_depot("Quay Street"))
    for position, (serial, length_m) in enumerate(
        (("C-SOUND", 0.6), ("C-CRUSHED", 1.1), ("C-DEAD", 1.6), ("C-OLD", 2.1)), start=1
    ):
        fit(make_segment(serial=serial, length_m=length_m), mat, position, today - timedelta(OLD_DAYS))
    make_fault(mat, "cable", 2, reported_on=today - timedelta(3), what="crushed by a barrier")
    make_reading(mat.fittings.get(position=3).segment, None, today - timedelta(5))
    make_reading(mat.fittings.get(position=1).segment, 0.48, today - timedelta(17), temperature_c=20)
    return mat


@pytest.fixture
def assessed(mat, today):
    assess_pool(today)
    return mat


def due_rows(client, query=""):
    lines = b"".join(client.get(f"/due.csv{query}").streaming_content).decode()
    return list(csv.DictReader(io.StringIO(lines)))


def serials(client, query=""):
    return [row["segment"] for row in due_rows(client, query)]


def test_the_list_leads_with_the_broken_then_the_longest_of_the_old(assessed, keeper_client):
    rows = due_rows(keeper_client)
    assert [row["segment"] for row in rows] == ["C-DEAD", "C-CRUSHED", "C-OLD", "C-SOUND"]
    assert [row["cause"] for row in rows] == ["loss", "damage", "age", "age"]
    assert [row["causes_reached"] for row in rows] == ["loss age", "damage age", "age", "age"]
    # the date stays the earliest of all
    assert len({row["due_on"] for row in rows}) == 1


def test_of_equals_the_mat_that_is_wanted_soonest_stands_first(mat, keeper_client, today):
    make_reading(mat.fittings.get(position=1).segment, None, today - timedelta(1))
    sooner = make_mat("M-009")
    segment = make_segment(serial="C-WANTED", length_m=0.4)
    fit(segment, sooner, 1, today - timedelta(OLD_DAYS))
    make_fault(sooner, "connector", 1, reported_on=today - timedelta(1))
    make_usage_event(mat, make_event(today + timedelta(40)), "planned")
    make_usage_event(sooner, make_event(today + timedelta(8)), "planned")
    assess_pool(today)
    assert serials(keeper_client)[0] == "C-WANTED"


@pytest.mark.parametrize(
    ("cause", "found"),
    [
        ("damage", ["C-CRUSHED"]),
        ("loss", ["C-DEAD"]),
        ("age", ["C-DEAD", "C-CRUSHED", "C-OLD", "C-SOUND"]),
        ("events", []),
    ],
)
def test_the_filter_finds_a_cable_by_any_cause_that_it_has_reached(assessed, keeper_client, cause, found):
    assert serials(keeper_client, f"?cause={cause}") == found


def test_a_fault_that_was_looked_at_is_no_damage_for_the_filter(assessed, mat, keeper_client, today):
    mat.faults.update(ended_on=today, end_reason="looked at, nothing found")
    assess_pool(today)
    assert serials(keeper_client, "?cause=damage") == []


@pytest.mark.parametrize("page", ["/due/", "/due/?by=cable", "/due/print/"])
def test_every_line_leads_with_the_worst_and_names_the_rest_in_short(assessed, keeper_client, page):
    words = words_in(keeper_client.get(page).content.decode())
    assert "cable fault, reported" in words
    assert "no signal, measured" in words
    assert words.count("· also by age") == 2
    assert "0.48" in words and "not measured" in words


def test_every_row_of_a_mat_leads_with_the_worst_and_names_the_rest_in_short(assessed, keeper_client):
    words = words_in(keeper_client.get("/mats/M-004/").content.decode())
    assert "cable fault reported on" in words
    assert "no signal on" in words
    assert words.count("Also 3 years old") == 2
    assert "Measured 0.48 dB 17 days ago" in words
    assert "Not measured" in words
    assert words.count("broken or over") >= 2 and words.count("by age or events alone") >= 2


def test_the_list_counts_what_is_to_be_changed_now_by_how_bad_it_is(assessed, keeper_client):
    words = words_in(keeper_client.get("/due/?by=cable").content.decode())
    assert "To change now: 2 broken or over, 2 by age or events alone." in words
    words = words_in(keeper_client.get("/due/").content.decode())
    assert "change now 4 cables in 1 mat : 2 broken or over, 2 by age or events alone" in words


def test_today_names_the_worst_of_a_mat_and_the_event_that_wants_it(mat, keeper_client, today):
    make_usage_event(mat, make_event(today + timedelta(1), name="Hangar Mile"), "planned")
    for number in range(1, 8):
        fit(make_segment(), make_mat(f"K{number}"), 1, today - timedelta(OLD_DAYS + 200))
    assess_pool(today)
    words = words_in(keeper_client.get("/").content.decode())
    first = words.split("Change these cables")[1].split("Work order")[0]
    assert "M-004 4 cables change now Quay Street C-DEAD: no signal on" in first
    assert "also 3 years old" in first
    assert "2 broken or over, 2 by age or events alone" in first
    assert "Wanted for Hangar Mile tomorrow" in first


def test_the_command_counts_as_the_pages_do_and_names_every_cause_reached(mat, keeper_client, today):
    """One cable is due after the look-ahead, but before an event that lies behind it: the pages count it."""
    PolicyValue.objects.create(setting="look_ahead_days", value=30)
    far = make_mat("M-011")
    fit(make_segment(serial="C-FAR"), far, 1, today - timedelta(3 * 365 - 40))
    make_usage_event(far, make_event(today + timedelta(60)), "planned")
    assess_pool(today)
    out = io.StringIO()
    call_command("due", stdout=out)
    head, first, *others = out.getvalue().splitlines()
    assert head.endswith("5 segments: 4 change now, 1 change before.")
    assert len([first, *others]) == 5
    words = words_in(keeper_client.get("/due/").content.decode())
    assert "4 to change now 1 before an event" in words
    assert any("damage, age" in line and "C-CRUSHED" in line for line in [first, *others])
    out = io.StringIO()
    call_command("due", "--format", "csv", stdout=out)
    by_segment = {row["segment"]: row for row in csv.DictReader(io.StringIO(out.getvalue()))}
    assert (by_segment["C-DEAD"]["cause"], by_segment["C-DEAD"]["also"]) == ("loss", "age")


def test_the_work_order_leads_with_the_damage_and_names_the_age_beside_it(assessed, keeper, keeper_client, today):
    crushed = assessed.fittings.get(position=2).segment
    order = raise_work_orders([crushed.pk], by=keeper, on=today)[0]
    words = words_in(keeper_client.get(order.get_absolute_url()).content.decode())
    assert "cable fault reported on" in words
    assert "also 3 years old" in words


def test_the_cable_page_says_whose_date_it_is_and_what_leads(assessed, keeper_client):
    words = words_in(keeper_client.get("/cables/C-CRUSHED/").content.decode())
    assert "Cable fault reported on" in words
    assert "The date: 3 years old on" in words


def test_a_reading_too_close_to_the_limit_is_told_on_the_page_of_the_mat(assessed, keeper_client, today):
    make_reading(assessed.fittings.get(position=4).segment, 2.94, today, temperature_c=20)
    assess_pool(today)
    page = keeper_client.get("/mats/M-004/").content.decode()
    assert '<span class="quiet">Measured 2.94 dB today, too close to the limit</span>' in page
    assert '<span class="quiet at-phone">Measured 0.48 dB 17 days ago</span>' in page


def test_today_puts_the_mats_of_the_next_days_above_worse_ones_that_are_wanted_later(mat, keeper_client, today):
    soon, later = make_mat("K2"), make_mat("K9")
    for old in (soon, later):
        fit(make_segment(), old, 1, today - timedelta(OLD_DAYS))
    make_fault(later, "connector", 1, reported_on=today)
    make_usage_event(soon, make_event(today + timedelta(8)), "planned")
    make_usage_event(later, make_event(today + timedelta(40)), "planned")
    make_usage_event(mat, make_event(today + timedelta(30)), "planned")
    assess_pool(today)
    words = words_in(keeper_client.get("/").content.decode()).split("Change these cables")[1]
    places = [words.index(name) for name in ("K2", "M-004", "K9")]
    assert places == sorted(places)
