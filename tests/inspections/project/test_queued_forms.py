"""What a phone that kept a form hears when it sends it: a word where a browser would be led on, or signed in."""

import uuid

import pytest
from django.test import Client
from factories import make_event, make_mat, make_usage_event

from fleet.models import Event
from fleet.selectors.pool import pool_uid

pytestmark = pytest.mark.django_db
URL = "/events/log/"


@pytest.fixture
def form(today):
    make_mat("4")
    typed = {"event": "new", "name": "Hill run", "starts_on": str(today), "mats": ["4"], "act": "log"}
    return {"token": str(uuid.uuid4()), **typed}


def kept_for(person, pool=None):
    return {"HTTP_X_HALFPOWER_QUEUE": f"{pool or pool_uid()} {person.pk}"}


def test_a_stored_form_is_answered_with_its_page_and_so_is_the_same_form_again(log_client, log_hand, form):
    answers = [log_client.post(URL, form, **kept_for(log_hand)) for _ in range(2)]
    assert [(answer.status_code, answer.json()) for answer in answers] == [
        (200, {"stored": Event.objects.get().get_absolute_url()})
    ] * 2


def test_what_the_page_says_once_is_said_when_somebody_opens_it(log_client, log_hand, form):
    page = log_client.post(URL, form, **kept_for(log_hand)).json()["stored"]
    assert "Logged: 1 mat." in log_client.get(page).content.decode()


def test_a_refused_form_is_answered_with_its_page(log_client, log_hand, form):
    answer = log_client.post(URL, form | {"mats": []}, **kept_for(log_hand))
    assert answer.status_code == 422
    assert "Tick the mats" in answer.content.decode()


def test_another_pool_or_account_stores_nothing(log_client, log_hand, keeper, form):
    for header in (kept_for(keeper), kept_for(log_hand, uuid.uuid4()), {"HTTP_X_HALFPOWER_QUEUE": "ready?"}):
        answer = log_client.post(URL, form, **header)
        assert (answer.status_code, answer.json()) == (409, {"refused": "kept for another"})
    assert not Event.objects.exists()


def test_who_is_signed_out_is_told_so_in_a_word(log_hand, form):
    client = Client()
    for answer in (
        client.post(URL, form, **kept_for(log_hand)),
        client.get("/events/log/ready/", **kept_for(log_hand)),
    ):
        assert (answer.status_code, answer.json()) == (401, {"refused": "signed out"})


def test_a_token_against_forged_forms_is_asked_for_all_the_same(log_hand, form):
    client = Client(enforce_csrf_checks=True)
    client.force_login(log_hand)
    assert client.post(URL, form, **kept_for(log_hand)).status_code == 403
    token = client.get("/events/log/ready/").json()["token"]
    answer = client.post(URL, form, **kept_for(log_hand), HTTP_X_CSRFTOKEN=token)
    assert answer.status_code == 200
    assert Event.objects.count() == 1


def test_a_button_that_did_nothing_is_refused_with_its_reason_and_said_no_second_time(log_client, log_hand, today):
    usage = make_usage_event(make_mat("4"), make_event(today, code="E-1"), state="planned")
    seen = {"row": usage.pk, "version": usage.version + 1}
    answer = log_client.post("/events/E-1/mats/4/call-off/", seen, **kept_for(log_hand))
    assert answer.status_code == 422
    assert "Somebody else changed this meanwhile" in answer.json()["says"][0]
    assert "Somebody else changed" not in log_client.get("/events/E-1/").content.decode()


def test_a_mat_that_stayed_at_home_is_called_off_once_however_often_it_is_sent(log_client, log_hand, today):
    usage = make_usage_event(make_mat("4"), make_event(today, code="E-1"), state="planned")
    seen = {"row": usage.pk, "version": usage.version}
    answers = [log_client.post("/events/E-1/mats/4/call-off/", seen, **kept_for(log_hand)) for _ in range(2)]
    assert [answer.json() for answer in answers] == [{"stored": "/events/E-1/"}] * 2
    usage.refresh_from_db()
    assert (usage.state, usage.version) == ("called off", seen["version"] + 1)


def test_a_form_about_something_that_was_deleted_meanwhile_is_refused_and_says_so(log_client, log_hand):
    for url, what in (
        ("/events/E-1/answer/", "The event"),
        ("/faults/1/photos/", "The fault"),
        ("/no/such/", "What this"),
    ):
        answer = log_client.post(url, **kept_for(log_hand))
        assert answer.status_code == 422
        assert answer.json()["says"][0].startswith(what)
        assert "deleted meanwhile" in answer.json()["says"][0]


def test_who_is_signed_in_and_may_not_log_is_told_so_and_as_whom(visitor_client, visitor):
    answer = visitor_client.get("/events/log/ready/", **kept_for(visitor))
    whom = {"pool": str(pool_uid()), "account": str(visitor.pk)}
    assert (answer.status_code, answer.json()) == (403, {"refused": "not in this role", **whom})
