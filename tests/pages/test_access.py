"""Nothing but the sign-in page is open, and what needs a role is refused to those without it."""

import pytest
from addresses import CLOSED, address
from django.contrib.auth.decorators import login_not_required
from django.test import Client
from django.urls import path
from photos import make_pictures


def test_the_sign_in_page_is_open(client, keeper):
    assert client.get("/sign-in/").status_code == 200


@pytest.mark.parametrize(("name", "route"), [row for row in CLOSED if "<" in row[1]])
def test_every_address_with_a_code_has_an_example_to_try(keeper_client, examples, name, route):
    if name == "photo":
        make_pictures()
    assert keeper_client.get(address(route, examples)).status_code != 404


def test_a_refusal_keeps_the_look_and_says_whom_to_ask(visitor_client):
    page = visitor_client.get("/people/").content.decode()
    assert "Ask the keeper of the pool" in page
    assert 'aria-label="Main"' in page


def test_a_form_gone_stale_says_what_to_do(keeper):
    client = Client(enforce_csrf_checks=True)
    client.force_login(keeper)
    answer = client.post("/people/add/", {"name": "ottilie"})
    assert answer.status_code == 403
    assert "Go back: what you typed is still there." in answer.content.decode()


@pytest.mark.django_db
def test_static_files_are_served_without_signing_in_and_not_kept_for_long(client):
    for place in ("/static/css/tokens.css", "/static/django_htmx/htmx-2.min.js"):
        answer = client.get(place)
        assert answer.status_code == 200
        assert answer["Cache-Control"] == "max-age=60, public"
        assert b"".join(answer.streaming_content)
        answer.close()


@pytest.mark.django_db
def test_a_mistyped_address_makes_no_line_in_the_log(client, caplog):
    assert client.get("/no-such-page/").status_code == 404
    assert caplog.records == []


class Failing:
    """Addresses of a project whose only page fails."""

    @login_not_required
    def fail(request):
        raise RuntimeError("the cable is gone")

    urlpatterns = [path("fail/", fail)]


@pytest.mark.django_db
def test_a_failure_is_logged_once_with_its_traceback_and_shown_as_a_page(settings, caplog):
    settings.ROOT_URLCONF = Failing
    answer = Client(raise_request_exception=False).get("/fail/")
    assert answer.status_code == 500
    assert "An error occurred" in answer.content.decode()
    (record,) = caplog.records
    assert (record.name, str(record.exc_info[1])) == ("django.request", "the cable is gone")
