"""Nothing typed is lost: sent after signing out, from a page of before another sign-in, without its mark, or twice."""

import html
import re
from urllib.parse import urlencode

import pytest
from django.contrib.auth.models import User
from django.test import Client, RequestFactory
from factories import make_mat
from photos import photo_file

from fleet.models import Event, Fault, Mat
from inspections.project.resubmission import SentForm

EVENT = {"name": "Dyke run", "starts_on": "2026-05-02", "place": "Quay <north>"}
OURS = {"HTTP_ORIGIN": "http://testserver"}
PASSWORD = "muddy-hands-7"


class Browser(Client):
    """A browser: it sends forms as browsers do, checks of forged forms are on."""

    def __init__(self):
        super().__init__(enforce_csrf_checks=True)

    def form_at(self, place):
        return hidden_fields(self.get(place))

    def send(self, place, fields, **headers):
        body = urlencode(fields, doseq=True)
        return self.post(place, body, content_type="application/x-www-form-urlencoded", **(OURS | headers))

    def sign_in(self, name="keeper", **fields):
        form = self.form_at("/sign-in/") | {"username": name, "password": PASSWORD}
        return self.send("/sign-in/", form | fields)


def hidden_fields(answer):
    page = answer.content.decode().partition("<main")[2]
    inputs = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page)
    areas = re.findall(r'<textarea name="([^"]+)" hidden>\n(.*?)</textarea>', page, re.S)
    return {name: html.unescape(value) for name, value in [*inputs, *areas]}


@pytest.fixture
def browser(keeper):
    browser = Browser()
    assert browser.sign_in().status_code == 302
    return browser


def typed(browser):
    return browser.form_at("/events/add/") | EVENT


def sent_again(browser, answer):
    return browser.send("/events/add/", hidden_fields(answer))


def test_a_form_sent_after_signing_out_is_kept_through_the_sign_in(browser):
    form = typed(browser)
    browser.logout()
    answer = browser.send("/events/add/", form)
    assert answer.status_code == 401
    assert "What you sent is not stored yet" in answer.content.decode()
    asked = browser.send("/sign-in/", hidden_fields(answer) | {"username": "keeper", "password": PASSWORD})
    assert "Quay &lt;north&gt;" in asked.content.decode()
    assert not Event.objects.exists()
    assert sent_again(browser, asked).status_code == 302
    assert [event.place for event in Event.objects.all()] == ["Quay <north>"]


def test_a_report_with_a_photo_sent_after_signing_out_keeps_its_words_and_says_that_the_photo_is_gone(browser):
    make_mat("6")
    report = "/mats/6/faults/report/"
    form = browser.form_at(report) | {"place": "wet", "what": "soaked <through>", "reported_on": "2026-05-02"}
    browser.logout()
    answer = browser.post(report, form | {"photos": [photo_file()]}, **OURS)
    assert answer.status_code == 401
    asked = browser.send("/sign-in/", hidden_fields(answer) | {"username": "keeper", "password": PASSWORD})
    page = asked.content.decode()
    assert "soaked &lt;through&gt;" in page
    assert "<b>Photos are not kept here.</b> Send this first, then add them again." in page
    browser.send(report, hidden_fields(asked))
    fault = Fault.objects.get()
    assert (fault.place, fault.what, fault.photos.count()) == ("wet", "soaked <through>", 0)


def test_a_wrong_password_in_between_loses_nothing(browser):
    form = typed(browser)
    browser.logout()
    fields = hidden_fields(browser.send("/events/add/", form))
    wrong = browser.send("/sign-in/", fields | {"username": "keeper", "password": "not it"})
    asked = browser.send("/sign-in/", hidden_fields(wrong) | {"username": "keeper", "password": PASSWORD})
    sent_again(browser, asked)
    assert Event.objects.get().name == "Dyke run"


def test_an_account_deactivated_meanwhile_sends_nothing(browser, keeper):
    form = typed(browser)
    User.objects.filter(pk=keeper.pk).update(is_active=False)
    answer = browser.send("/events/add/", form)
    assert answer.status_code == 401
    again = browser.send("/sign-in/", hidden_fields(answer) | {"username": "keeper", "password": PASSWORD})
    assert "form-errors" in again.content.decode()
    assert not Event.objects.exists()


def test_a_page_from_before_another_sign_in_offers_to_send_again(browser):
    form = typed(browser)
    browser.sign_in()
    answer = browser.send("/events/add/", form)
    assert answer.status_code == 403
    assert "Send it again?" in answer.content.decode()
    assert sent_again(browser, answer).status_code == 302
    assert Event.objects.count() == 1


def test_a_page_elsewhere_is_never_offered_to_be_sent(browser):
    form = typed(browser) | {"csrfmiddlewaretoken": "x" * 32}
    for headers in ({"HTTP_ORIGIN": "http://elsewhere.example"}, {"HTTP_ORIGIN": "null"}):
        answer = browser.send("/events/add/", form, **headers)
        assert answer.status_code == 403
        assert "Dyke run" not in answer.content.decode()


def test_a_page_of_the_address_behind_which_we_stand_is_ours(browser, settings):
    settings.CSRF_TRUSTED_ORIGINS = ["https://pool.example.org"]
    form = typed(browser) | {"csrfmiddlewaretoken": "x" * 32}
    answer = browser.send("/events/add/", form, HTTP_ORIGIN="https://pool.example.org")
    assert answer.status_code == 403
    assert "Dyke run" in answer.content.decode()


def test_a_second_sign_in_page_sent_after_the_first_leads_on(browser):
    stale = browser.form_at("/sign-in/") | {"username": "keeper", "password": PASSWORD}
    browser.sign_in()
    answer = browser.send("/sign-in/", stale)
    assert (answer.status_code, answer.url) == (302, "/")


def test_passwords_are_never_kept(browser):
    form = browser.form_at("/people/add/") | {"name": "ottilie", "role": "visitor", "password": "wet-gloves-88"}
    browser.logout()
    answer = browser.send("/people/add/", form)
    asked = browser.send("/sign-in/", hidden_fields(answer) | {"username": "keeper", "password": PASSWORD})
    assert hidden_fields(asked)["name"] == "ottilie"
    assert "wet-gloves-88" not in asked.content.decode()
    assert [name for name in hidden_fields(asked) if "password" in name] == []


def test_what_is_kept_cannot_be_tampered_with(browser):
    browser.logout()
    answer = browser.sign_in(kept="WyIvcGVvcGxlL2FkZC8iLFtdXQ:1u:forged")
    assert answer.status_code == 302


def test_a_part_of_a_page_leaves_the_page_alone_when_signed_out(client, db):
    headers = {"HTTP_HX_REQUEST": "true", "HTTP_HX_CURRENT_URL": "http://testserver/bench/M-1/"}
    answer = client.post("/bench/M-1/verdicts/", {"found-1": "1.2"}, **headers)
    assert (answer.status_code, answer.content) == (401, b"")


def test_a_form_asked_for_by_its_own_page_changes_the_whole_page_when_signed_out(client, db):
    headers = {"HTTP_HX_REQUEST": "true", "HTTP_HX_CURRENT_URL": "http://testserver/events/log/"}
    body = urlencode(EVENT | {"act": "choose"})
    answer = client.post("/events/log/", body, content_type="application/x-www-form-urlencoded", **headers)
    assert (answer.status_code, answer["HX-Retarget"]) == (200, "body")
    assert "What you sent is not stored yet" in answer.content.decode()


@pytest.mark.parametrize("token", [{}, {"token": ""}, {"token": "spoilt"}])
def test_a_form_without_its_mark_says_so_and_can_be_sent_again(browser, token):
    form = typed(browser)
    del form["token"]
    answer = browser.send("/events/add/", form | token)
    assert answer.status_code == 422
    assert "could not be protected against being sent twice" in answer.content.decode()
    assert browser.send("/events/add/", hidden_fields(answer) | EVENT).status_code == 302
    assert Event.objects.count() == 1


def test_a_form_sent_twice_acts_once(browser):
    form = typed(browser)
    first, second = browser.send("/events/add/", form), browser.send("/events/add/", form)
    assert (
        (first.status_code, first.url)
        == (second.status_code, second.url)
        == (302, Event.objects.get().get_absolute_url())
    )


def test_a_character_that_no_database_takes_is_shown_in_its_place(browser):
    browser.send("/events/add/", typed(browser) | {"place": "Quay\x00 north"})
    assert Event.objects.get().place == "Quay\ufffd north"
    assert browser.get("/mats/M%00/").status_code == 404
    assert not Mat.objects.exists()


def test_a_new_password_is_kept_in_neither_of_the_fields_it_was_typed_in():
    fields = {"name": "ottilie", "role": "visitor", "password": "wet-gloves-9", "again": "wet-gloves-9"}
    request = RequestFactory().post("/people/add/", urlencode(fields), "application/x-www-form-urlencoded")
    assert SentForm.of(request).fields == [("name", "ottilie"), ("role", "visitor")]
