"""One search box for everything that has a code."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from factories import fit, make_event, make_mat, make_note, make_segment
from page_words import words_in

from fleet.models import Mat
from inspections.assessment.services import assess_pool
from inspections.models import WorkOrder


@pytest.fixture
def pool(db):
    mat = make_mat("M-017")
    make_mat("M-0170")
    make_segment(serial="C-00123")
    make_event(date(2026, 5, 2), code="E-2026-09", name="Quay Street night run")
    WorkOrder.objects.create(number="W-2026-001", mat=mat, raised_on=date(2026, 5, 3))


def find(client, text):
    return client.get(reverse("inspections:find"), {"q": text})


@pytest.mark.parametrize(
    ("text", "name", "code"),
    [
        ("m-017", "fleet:mat-detail", "M-017"),
        (" C-00123 ", "fleet:segment-detail", "C-00123"),
        ("e-2026-09", "fleet:event-detail", "E-2026-09"),
        ("w-2026-001", "inspections:work-order-detail", "W-2026-001"),
    ],
)
def test_a_code_in_full_leads_straight_to_its_page(pool, visitor_client, text, name, code):
    assert find(visitor_client, text).url == reverse(name, args=[code])


def test_part_of_a_code_lists_what_has_it(pool, visitor_client):
    answer = find(visitor_client, "m-01")
    found = answer.context["found"]
    assert [str(mat) for mat in found.mats.rows] == ["M-017", "M-0170"]
    assert [hits.total for hits in found.kinds.values()] == [2, 0, 0, 0, 0]
    assert "2 mats have “m-01”." in words_in(answer.content.decode())


@pytest.mark.parametrize("text", ["m17", "M 17", "m-17", "17", "M.017", "0017"])
def test_a_mat_is_found_however_its_number_is_written(pool, visitor_client, text):
    assert find(visitor_client, text).url == "/mats/M-017/"


@pytest.mark.parametrize("text", ["M-017 2", "m17 2", "17 2", "M-017 · 2", "M-017, position 2", "m17/2"])
def test_a_mat_with_a_position_leads_to_the_cable_there(pool, visitor_client, text):
    fit(make_segment(serial="C-9"), Mat.objects.get(number="M-017"), 2)
    assert find(visitor_client, text).url == "/cables/C-9/"


def test_a_position_that_is_empty_leads_to_the_mat_and_one_that_is_not_there_to_nothing(pool, visitor_client):
    assert find(visitor_client, "M-017 4").url == "/mats/M-017/"
    assert find(visitor_client, "M-017 99").context["found"].total == 0


def test_the_only_hit_is_opened(pool, visitor_client):
    assert find(visitor_client, "c-001").url == "/cables/C-00123/"


def test_a_cable_shows_where_it_is_and_its_condition(pool, visitor_client, today):
    for serial in ("K-1", "K-2"):
        fit(make_segment(serial=serial), Mat.objects.get(number="M-017"), int(serial[-1]), today - timedelta(1300))
    assess_pool(today)
    assert "K-1 in M-017 · 1 change now" in words_in(find(visitor_client, "k-").content.decode())


def test_an_event_is_found_by_a_word_of_its_name(pool, visitor_client):
    make_event(date(2026, 6, 2), code="E-2026-10", name="Night half")
    found = find(visitor_client, "NIGHT").context["found"]
    assert [event.code for event in found.events.rows] == ["E-2026-10", "E-2026-09"]


def test_a_note_is_found_by_a_word_of_it_and_leads_to_what_it_is_about(pool, visitor_client):
    note = make_note(make_event(code="E-9", name="Bank run"), "gate by the RIVER", code="N-00007")
    make_note(make_segment(serial="C-7"), "nut is tight")
    make_note(make_segment(serial="C-8"), "washed in the river")
    answer = find(visitor_client, "river")
    assert note in answer.context["found"].notes.rows
    assert 'href="/events/E-9/#notes"' in answer.content.decode() and "on Bank run" in answer.content.decode()
    assert find(visitor_client, "n-00007").url == "/events/E-9/#notes"


def test_two_things_of_the_same_code_are_both_listed(visitor_client):
    make_mat("A-1")
    make_segment(serial="a-1")
    found = find(visitor_client, "A-1").context["found"]
    assert ([str(mat) for mat in found.mats.rows], [str(cable) for cable in found.segments.rows]) == (["A-1"], ["a-1"])


def test_nothing_found_says_so_and_shows_what_was_typed_as_text(pool, visitor_client):
    answer = find(visitor_client, "<b>x' ")
    assert answer.status_code == 200
    assert "Nothing has “&lt;b&gt;x&#x27;”" in answer.content.decode()


def test_an_empty_search_asks_for_a_word(visitor_client):
    assert "Type a mat number" in find(visitor_client, " ").content.decode()


def test_a_mat_with_a_strange_number_is_found_and_shown(visitor_client):
    make_mat("Bühne 7 % #?&'")
    answer = visitor_client.get(find(visitor_client, "bühne 7 % #?&'").url)
    assert answer.status_code == 200


def test_many_hits_are_cut_off_and_said_to_be(visitor_client):
    for number in range(35):
        make_segment(serial=f"K-{number:03d}")
    answer = find(visitor_client, "k-")
    assert len(answer.context["found"].segments.rows) == 30
    words = words_in(answer.content.decode())
    assert "35 cables have “k-”." in words and "Cables the first 30 of 35" in words
