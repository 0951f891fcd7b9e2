"""Every answer says what its page may load and that nobody keeps it, whatever kind of answer it is."""

import logging
import re
from pathlib import Path

import pytest
from addresses import PATTERNS, address
from django.contrib.auth.decorators import login_not_required
from django.test import Client
from django.urls import path

from inspections.management.callers import TOO_LARGE
from inspections.management.serving import refusing_unreadable
from inspections.project.headers import answer_headers

pytestmark = [pytest.mark.django_db, pytest.mark.alike]
ROOT = Path(__file__).parents[3]
# a page whose very address is a secret says more
STRICTER = {"Referrer-Policy": "strict-origin"}
OURS = {name: value for name, value in answer_headers("").items() if name != "Cache-Control"}


def lacks(answer, keeps=False):
    """What an answer does not say as every answer should."""
    lacking = [name for name, value in OURS.items() if answer.headers.get(name) not in (value, STRICTER.get(name))]
    return lacking + ["no-store"] * (("no-store" in answer.headers.get("Cache-Control", "")) == keeps)


def read(answer):
    """A file read to its end is closed; closed before, it would take the connection of the test along."""
    if answer.streaming:
        b"".join(answer.streaming_content)
    return answer


def lacks_whatever(client, place):
    return lacks(read(client.get(place))) + lacks(read(client.put(place)))


@pytest.mark.parametrize("signed_in", [True, False])
def test_every_address_answers_with_the_headers(keeper_client, examples, signed_in):
    client = keeper_client if signed_in else Client()
    places = [address(route, examples) for _, route in PATTERNS]
    found = {place: lacks_whatever(client, place) for place in places}
    assert len(found) > 90
    assert {place: lacking for place, lacking in found.items() if lacking} == {}


@pytest.mark.parametrize(
    ("place", "sent", "status"),
    [
        ("/no-such-page/", {}, 404),
        ("/due", {}, 301),
        ("/due/", {"HTTP_HOST": "other.example.org"}, 400),
        ("/people/", {}, 403),
        ("/static/none-such.css", {}, 404),
    ],
)
def test_so_does_what_refuses_and_what_leads_elsewhere(visitor_client, place, sent, status):
    answer = visitor_client.get(place, **sent)
    assert (answer.status_code, lacks(answer)) == (status, [])


def test_so_does_a_form_that_is_stale_and_one_that_says_what_is_wrong(keeper):
    client = Client(enforce_csrf_checks=True)
    client.force_login(keeper)
    assert lacks(client.post("/people/add/", {"name": "ottilie"})) == []
    client.handler.enforce_csrf_checks = False
    answer = client.post("/people/add/", {"name": ""})
    assert (answer.status_code, lacks(answer)) == (422, [])


class Failing:
    """Addresses of a project whose only page fails."""

    @login_not_required
    def fail(request):
        raise RuntimeError("the cable is gone")

    urlpatterns = [path("fail/", fail)]


def test_so_does_a_failure(settings, caplog):
    settings.ROOT_URLCONF = Failing
    caplog.set_level(logging.CRITICAL)
    client = Client(raise_request_exception=False)
    answer = client.get("/fail/")
    assert (answer.status_code, lacks(answer)) == (500, [])
    (sheet,) = re.findall(r'<link rel="stylesheet" href="([^"]+)"', answer.content.decode())
    assert read(client.get(sheet)).status_code == 200


def test_so_does_what_is_refused_unread():
    answered = []
    environ = {"REQUEST_METHOD": "GET", "CONTENT_TYPE": "text/plain; charset=hex"}
    refusing_unreadable(None)(environ, lambda status, headers: answered.extend([status, dict(headers)]))
    assert answered[0] == "400 Bad Request"
    assert answered[1].items() >= answer_headers("").items()


def test_so_does_what_is_refused_by_its_length():
    assert dict(TOO_LARGE.to_response()[1]).items() >= answer_headers("").items()


def test_style_sheets_and_scripts_are_kept_and_are_told_the_same(client):
    answer = read(client.get("/static/css/tokens.css"))
    assert (answer.status_code, lacks(answer, keeps=True)) == (200, [])


def test_nothing_inside_a_page_is_ever_allowed():
    policy = answer_headers("https://pool.example.org")["Content-Security-Policy"]
    assert not [word for word in ("unsafe", "nonce", "sha256", "*", "http:", "data: blob") if word in policy]
    assert "script-src 'self'; style-src 'self'; img-src 'self' blob: data:;" in policy
    assert policy.count("https://pool.example.org") == policy.count("form-action 'self' https://pool.example.org;") == 1


WRITTEN_INSIDE = re.compile(r"<style|\sstyle=|\son[a-z]+=[\"']|hx-on|[\"']js:|javascript:|<script(?![^>]*\ssrc=)")


def test_no_template_and_no_markup_of_ours_holds_what_a_page_may_not():
    """The file that stands alone is no page: it holds its style sheet."""
    sources = [*(ROOT / "templates").rglob("*.html"), *(ROOT / "static/js").glob("*.js")]
    sources += [path for app in ("fleet", "inspections") for path in (ROOT / app).rglob("*.py")]
    found = {str(path.relative_to(ROOT)): WRITTEN_INSIDE.findall(path.read_text("utf-8")) for path in sources}
    assert {name: words for name, words in found.items() if words} == {"templates/print.html": ["<style"]}
