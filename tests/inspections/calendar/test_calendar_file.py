"""The calendar for other programs: read back by a parser that did not write it, behind an address that is secret."""

import re
from datetime import date, datetime, timedelta, timezone

import pytest
import vobject
from conftest import signed_in
from django.test import Client
from factories import log_usage_event, make_depot, make_event, make_person, make_plain_design, make_plain_mat
from page_forms import form_in, forms_in
from page_words import words_in

from fleet.models import AccountChange, CalendarFeed
from fleet.services.calendar_feeds import end_all_feeds
from fleet.services.people import deactivate, reactivate, set_password
from inspections.assessment.services import assess_pool
from inspections.calendar.ics_tables import calendar_file
from inspections.calendar.plan_selectors import depot_plans
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db
# a Monday
ON = date(2026, 11, 30)
NOW = datetime(2026, 11, 30, 9, 30, tzinfo=timezone(timedelta(hours=1)))
ADDRESS, FILE = "/calendar/address/", "/calendar/file.ics"


def make_due(number, cables, on, *going, by=None, **values):
    mat = make_plain_mat(
        make_plain_design(cables), number=number, fitted=True, fitted_on=on - timedelta(days=2000), **values
    )
    for days, name in going:
        log_usage_event(mat, make_event(on + timedelta(days=days), name=name), by=by, on=on, state="planned")
    assess_pool(on)
    return mat


def entries(content):
    """{summary: entry} as the other parser reads the file."""
    return {entry.summary.value: entry for entry in vobject.readOne(content.decode()).contents.get("vevent", [])}


def file_of_plan(address="https://pool.example.org"):
    return calendar_file(depot_plans(ON), now=NOW, address=address)


def test_a_parser_that_did_not_write_it_reads_what_is_to_be_done_on_which_day(keeper):
    make_due("M-1", 10, ON, (4, "Fen; run, north\\bank"), by=keeper, depot=make_depot("Quay, east"))
    read = entries(file_of_plan())
    assert list(read) == ["M-1: change 8 of 10 cables", "M-1: change 2 of 10 cables"]
    first, second = read.values()
    assert (first.dtstart.value, first.dtend.value) == (ON, ON + timedelta(days=1))
    assert second.dtstart.value == ON + timedelta(days=1)
    assert first.description.value == (
        "Positions 1, 2, 3, 4, 5, 6, 7, 8, 9, 10.\nBefore Fen; run, north\\bank, 4 Dec 2026.\n"
        "At home before it: 30 Nov to 3 Dec 2026."
    )
    assert first.location.value == "Quay, east"
    assert first.url.value == "https://pool.example.org/mats/M-1/"
    assert first.dtstamp.value == NOW


def test_what_will_not_be_ready_stands_on_the_day_of_its_event(keeper):
    make_due("M-1", 2, ON, (0, "Canal run"), (1, "Fen run"), by=keeper)
    late = entries(file_of_plan())["M-1 is not ready for Fen run"]
    assert late.dtstart.value == ON + timedelta(days=1)
    assert late.description.value == "Not at home on a day of work until then."


def test_lines_end_and_are_folded_as_the_standard_says(keeper):
    """RFC 5545, 3.1: lines end with CR LF and have at most 75 octets without it; a fold begins with a blank."""
    make_due("M-1", 4, ON, (4, "Straße der Läufer am Kanal, dritte Abteilung, Start bei der alten Mühle"), by=keeper)
    content = file_of_plan()
    lines = content.split(b"\r\n")
    assert b"\n" not in content.replace(b"\r\n", b"") and lines[-1] == b""
    assert max(map(len, lines)) <= 75
    unfolded = content.replace(b"\r\n ", b"").decode()
    assert "Läufer am Kanal\\, dritte Abteilung\\, Start" in unfolded
    assert unfolded.count("BEGIN:VEVENT") == unfolded.count("UID:") == unfolded.count("DTSTAMP:20261130T083000Z") == 1
    assert "VERSION:2.0" in unfolded and "DTSTART;VALUE=DATE:20261130" in unfolded


def test_an_entry_keeps_its_name_when_its_day_moves_and_no_two_share_one(keeper):
    mat = make_due("M-1", 2, ON)
    before = entries(file_of_plan())["M-1: change 2 cables"]
    log_usage_event(mat, make_event(ON, 2), by=keeper, on=ON, state="planned")
    make_due("M-2", 10, ON)
    after = entries(file_of_plan())
    moved = after["M-1: change 2 cables"]
    assert moved.uid.value == before.uid.value and moved.dtstart.value > before.dtstart.value
    assert len({entry.uid.value for entry in after.values()}) == len(after) == 3


def test_a_dated_order_is_an_entry_that_leads_to_its_sheet(keeper):
    mat = make_due("M-1", 1, ON)
    cables = [mat.fittings.get().segment_id]
    (order,) = raise_work_orders(cables, by=keeper, on=ON, planned_on=ON, given_to="Oda")
    (entry,) = entries(file_of_plan()).values()
    assert entry.description.value == f"Work order {order}, for Oda."
    assert entry.url.value.endswith(order.get_absolute_url())


def test_an_empty_calendar_is_one_too():
    assess_pool(ON)
    assert entries(file_of_plan()) == {}


# --- downloaded, and fetched


@pytest.fixture
def due(today):
    return make_due("M-1", 2, today)


def fetch(address):
    return Client().get(re.sub("^http://testserver", "", address))


def make_address(client):
    page = client.post(ADDRESS, dict(forms_in(client.get(ADDRESS)))[None])
    return re.search(r">(http[^<]+\.ics)<", page.content.decode())[1]


def test_whoever_is_signed_in_downloads_the_file(visitor_client, due, today):
    answer = visitor_client.get(FILE)
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Content-Disposition"] == f'attachment; filename="calendar-{today}.ics"'
    assert list(entries(answer.content)) == ["M-1: change 2 cables"]
    assert entries(visitor_client.get(FILE, {"depot": "none such"}).content)


def test_a_program_fetches_it_without_signing_in_and_gets_in_nowhere_else(visitor_client, visitor, due):
    address = make_address(visitor_client)
    client = Client()
    answer = client.get(address.removeprefix("http://testserver"))
    assert (answer.status_code, list(entries(answer.content))) == (200, ["M-1: change 2 cables"])
    assert client.get("/calendar/").status_code == 302
    assert CalendarFeed.objects.get(account=visitor).fetched_at is not None
    assert client.post(address.removeprefix("http://testserver")).status_code == 405


def test_the_secret_is_kept_nowhere_and_shown_once(visitor_client, due):
    address = make_address(visitor_client)
    secret = address.rpartition("/")[2].removesuffix(".ics")
    assert len(secret) >= 43
    row = CalendarFeed.objects.values().get()
    assert secret not in str(row)
    assert secret not in visitor_client.get(ADDRESS).content.decode()


def test_a_new_address_ends_the_old_one(visitor_client, due):
    first, second = make_address(visitor_client), make_address(visitor_client)
    assert (fetch(first).status_code, fetch(second).status_code) == (404, 200)


def test_an_ended_address_leads_nowhere(visitor_client, visitor, due):
    address = make_address(visitor_client)
    page = visitor_client.post("/calendar/address/end/", follow=True)
    assert "Your address of the calendar is ended." in words_in(page.content.decode())
    assert fetch(address).status_code == 404
    acts = AccountChange.objects.filter(account=visitor).order_by("pk").values_list("act", flat=True)
    assert list(acts)[-2:] == ["calendar link made", "calendar link ended"]


def test_the_same_form_sent_twice_makes_one_address_and_says_so(visitor_client, due):
    form = form_in(visitor_client.get(ADDRESS))
    first = re.search(r">(http[^<]+\.ics)<", visitor_client.post(ADDRESS, form).content.decode())[1]
    again = visitor_client.post(ADDRESS, form, follow=True)
    assert "The address was made already" in words_in(again.content.decode())
    assert fetch(first).status_code == 200


@pytest.mark.parametrize("secret", ["x", "-" * 43, "%00", "é" * 9])
def test_a_wrong_secret_is_told_nothing(visitor_client, due, secret):
    make_address(visitor_client)
    answer = fetch(f"/calendar/feed/{secret}.ics")
    assert answer.status_code in (400, 404) and "M-1" not in answer.content.decode()


def test_an_account_that_may_not_sign_in_has_no_address_any_more_not_even_when_it_may_again(keeper, due):
    other = make_person("other", role="visitor")
    address = make_address(signed_in(other))
    deactivate(other, by=keeper)
    assert fetch(address).status_code == 404
    reactivate(other, by=keeper)
    assert fetch(address).status_code == 404


def test_a_password_that_a_keeper_sets_ends_the_address(keeper, due):
    other = make_person("other", role="visitor")
    address = make_address(signed_in(other))
    set_password(other, "another-long-one-7", by=keeper)
    assert fetch(address).status_code == 404


def test_a_restore_lets_no_address_of_the_back_up_work_again(visitor_client, due):
    address = make_address(visitor_client)
    end_all_feeds()
    assert fetch(address).status_code == 404
    assert AccountChange.objects.filter(act="calendar link ended", changed_by=None).count() == 1
