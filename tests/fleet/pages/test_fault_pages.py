"""What came home damaged or wet: offered where the event was logged, named in plain words, closed with who said so."""

import re
from datetime import timedelta

import pytest
from factories import make_event, make_fault, make_mat, make_usage_event
from page_forms import form_in
from page_words import words_in

from fleet.models import Fault

pytestmark = pytest.mark.django_db
OFFER = "Something came home damaged or wet?"


@pytest.fixture
def event(today):
    event = make_event(today - timedelta(days=2), name="Oxtarn hill run")
    for number, state in (("6", "went"), ("7", "went"), ("8", "called off")):
        make_usage_event(make_mat(number, fitted=True), event, state)
    return event


def page(client, path):
    response = client.get(path)
    assert response.status_code == 200
    return response.content.decode()


def offered(html):
    """{mat: where its button leads} of what the page of an event offers."""
    fold = re.search(rf"<summary>{re.escape(OFFER)}</summary>(.*?)</details>", html, re.S)
    links = re.findall(r'href="([^"]+)">mat (\d+)</a>', fold[1]) if fold else []
    return {number: address.replace("&amp;", "&") for address, number in links}


def report(client, address, **values):
    return client.post(address, form_in(client.get(address)) | values, follow=True)


def test_after_an_event_a_mat_a_word_and_a_button_report_what_came_home_wet(log_client, event):
    links = offered(page(log_client, event.get_absolute_url()))
    assert list(links) == ["6", "7"]
    answer = report(log_client, links["7"], place="wet")
    fault = Fault.objects.get()
    assert (fault.mat.number, fault.place, fault.reported_on) == ("7", "wet", event.ends_on)
    assert answer.request["PATH_INFO"] == event.get_absolute_url()
    # the next mat is one tap away
    assert '<details class="fold" open>' in answer.content.decode()
    assert "Reported: mat 7 is wet." in words_in(answer.content.decode())


@pytest.mark.parametrize("days", [-31, 1])
def test_an_event_that_is_long_over_or_to_come_offers_nothing(keeper_client, event, today, days):
    day = today + timedelta(days=days)
    type(event).objects.filter(pk=event.pk).update(starts_on=day, ends_on=day)
    assert OFFER not in page(keeper_client, event.get_absolute_url())


def test_a_visitor_is_offered_nothing_to_report(visitor_client, event):
    assert OFFER not in page(visitor_client, event.get_absolute_url())


@pytest.mark.parametrize("hostile", ["https://elsewhere.example/", "//elsewhere.example", "garbage"])
def test_a_report_leads_back_to_pages_of_ours_only(log_client, event, hostile):
    address = f"/mats/6/faults/report/?reported_on=garbage&place=nonsense&next={hostile}"
    answer = report(log_client, address, place="wet", reported_on=event.ends_on.isoformat())
    assert answer.request["PATH_INFO"] == "/mats/6/"


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("not known", "Reported: something on mat 6, not known where."),
        ("whole mat", "Reported: mat 6 as a whole."),
        ("one of the cables", "Reported: one of the cables of mat 6."),
        ("cable", "Reported: cable in position 2 of mat 6."),
    ],
)
def test_what_was_reported_is_said_in_plain_words(log_client, event, place, said):
    position = {"position": "2"} if place == "cable" else {}
    text = words_in(report(log_client, "/mats/6/faults/report/", place=place, **position).content.decode())
    assert said in text
    assert "not known of" not in text and ": not known" not in text


def test_a_place_that_is_not_known_is_named_so_on_the_pages_of_the_mat_and_on_today(keeper_client, event, today):
    make_fault(event.usage_events.first().mat, "not known", None, reported_on=today)
    for path in ("/mats/6/", "/"):
        text = words_in(page(keeper_client, path))
        assert "lace not known" in text and ": not known" not in text


def test_the_mat_says_who_closed_a_fault_when_and_how(bench_client, bench_hand, event, today):
    fault = make_fault(event.usage_events.first().mat, "connector", 1, reported_on=today)
    address = f"/faults/{fault.pk}/end/"
    bench = f"/bench/6/?next={address}"
    assert f'href="{bench}">measure position 1' in " ".join(page(bench_client, address).split())
    field = next(name for name in form_in(bench_client.get(bench)) if name and name.startswith("found-"))
    assert bench_client.post(bench, form_in(bench_client.get(bench)) | {field: "0.6"}).url == address
    bench_client.post(address, form_in(bench_client.get(address)) | {"end_reason": "looked at, nothing found"})
    assert f"closed {today:%-d %b %Y} by {bench_hand.get_username()}: looked at, nothing found" in words_in(
        page(bench_client, "/mats/6/")
    )


def test_closed_once_more_it_names_who_closed_it_last(keeper_client, bench_client, keeper, event, today):
    fault = make_fault(event.usage_events.first().mat, "wet", None, reported_on=today)
    end, correct = f"/faults/{fault.pk}/end/", f"/faults/{fault.pk}/correct/"
    bench_client.post(end, form_in(bench_client.get(end)) | {"end_reason": "dried"})
    again = {"ended_on": "", "end_reason": "", "reason": "still wet"}
    keeper_client.post(correct, form_in(keeper_client.get(correct)) | again)
    assert Fault.objects.get().ended_on is None
    keeper_client.post(end, form_in(keeper_client.get(end)) | {"end_reason": "dried"})
    assert f"by {keeper.get_username()}: dried" in words_in(page(keeper_client, "/mats/6/"))


def test_one_that_came_closed_out_of_a_file_names_nobody(keeper_client, event, today):
    mat = event.usage_events.first().mat
    make_fault(mat, "wet", None, reported_on=today, ended_on=today, end_reason="dried")
    assert f"closed {today:%-d %b %Y}: dried" in words_in(page(keeper_client, "/mats/6/"))


def test_one_tap_says_that_a_wet_mat_has_dried_where_it_is_shown(log_client, event, today):
    mat = event.usage_events.first().mat
    for number, place in enumerate(("/mats/6/", "/"), 1):
        fault = make_fault(mat, "wet", None, reported_on=today, number=number)
        end = f"/faults/{fault.pk}/end/"
        button = form_in(log_client.get(place), end) | {"end_reason": "dried"}
        answer = log_client.post(end, button, follow=True)
        fault.refresh_from_db()
        assert (fault.ended_on, fault.end_reason) == (today, "dried")
        assert answer.request["PATH_INFO"] == place
        assert "Mat 6 has dried." in words_in(answer.content.decode())


def test_a_tap_on_dried_that_comes_too_late_is_told_so(log_client, bench_client, event, today):
    fault = make_fault(event.usage_events.first().mat, "wet", None, reported_on=today)
    end = f"/faults/{fault.pk}/end/"
    button = form_in(log_client.get("/mats/6/"), end) | {"end_reason": "dried"}
    bench_client.post(end, form_in(bench_client.get(end)) | {"end_reason": "looked at, nothing found"})
    answer = log_client.post(end, button, follow=True)
    assert "is closed: looked at, nothing found" in words_in(answer.content.decode())
