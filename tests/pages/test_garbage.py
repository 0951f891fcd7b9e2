"""Whatever is sent to an address, by a browser gone wrong or by hand, is answered; nothing ends in a failure page.

Every value is tried in every field of every page, by the page's own form, which costs no page to draw. What the form
takes is sent, and beside it a few bodies that no form would make.
"""

import re
from html.parser import HTMLParser
from itertools import cycle, islice
from urllib.parse import quote, urlencode

import pytest
from addresses import CLOSED, FILES_OUT, address
from django.db import transaction
from django.forms import BaseForm
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

GARBAGE = (
    "",
    " ",
    "-1",
    "1e308",
    "nan",
    "9" * 30,
    "9223372036854775808",
    "0001-01-01",
    "9999-12-31",
    "2026-02-30",
    "not a number, not a day",
    "M-901",
    "٣٫٥ – ünïcode 😀 \u202e desrever",
    "\x00",
    "a\x00b",
    "\x07\x1b[31m",
    "\ud800",
    "<script>alert(1)</script>",
    "[[[[",
    "../../../etc/passwd",
    "x" * 5_000,
    "00000000-0000-0000-0000-000000000000",
)
# what is sent beside the fields that a page shows
BUTTONS = ("act", "confirmed", "event", "mats", "next", "offered", "row", "state", "token", "version")
ASKED = ("all", "depot", "event", "format", "mat", "next", "on", "page", "q", "segment", "sort", "until", "within")
# as text and as a day both databases take it alike
TAKEN_ALIKE = [pytest.param(value, marks=pytest.mark.alike) for value in ("../../..", "9999-12-31")]
# one ends the session, the other sends a whole file
SENT = [(name, route) for name, route in CLOSED if name not in {"sign-out", "copy-download", *FILES_OUT}]
CODED = [(name, route) for name, route in CLOSED if "<" in route]


class Fields(HTMLParser):
    """Names and values of the forms that a page sends to its own address."""

    def __init__(self, answer):
        super().__init__()
        self.own, self.values, self.form, self.select = answer.request["PATH_INFO"], {}, {}, None
        self.feed(answer.content.decode())

    def handle_starttag(self, tag, attributes):
        seen = dict(attributes)
        name = seen.get("name")
        if tag == "form":
            is_own = seen.get("method") == "post" and seen.get("action") in (None, self.own)
            self.form = self.values if is_own else {}
        elif tag == "select":
            self.select = name
        elif tag == "option" and self.select and ("selected" in seen or self.select not in self.form):
            self.form[self.select] = seen.get("value", "")
        elif name and tag in ("input", "button", "textarea") and name != "csrfmiddlewaretoken":
            self.form.setdefault(name, seen.get("value") or "")

    def handle_endtag(self, tag):
        if tag == "select":
            self.select = None


def fields_of(answer):
    return {} if answer.streaming else Fields(answer).values


def forms_of(answer):
    """The forms that a page was drawn from."""
    shown = answer.context.flatten() if answer.context else {}
    return [value for value in shown.values() if isinstance(value, BaseForm)]


def taken(form, value):
    """Does the form take this value in all its fields at once?"""
    parts = [form, *getattr(form, "parts", ())]
    data = QueryDict(encoded({part.add_prefix(name): value for part in parts for name in part.fields}))
    for part in parts:
        part.is_bound, part.data, part.files = True, data, MultiValueDict()
        part.full_clean()
    return form.is_valid()


def bodies(fields, forms, start):
    """What the page's forms take; then a few that they do not, from another value on at each address."""
    accepted = [value for value in GARBAGE if [form for form in forms if taken(form, value)]]
    names, values = [*fields, *BUTTONS], islice(cycle(GARBAGE), start, None)
    # a page without a form of its own mostly reads
    for value in [*accepted, next(values)] if fields else [next(values)]:
        yield dict.fromkeys(names, value)
    yield dict(zip(names, values, strict=False))
    yield {}
    # in one field after another, beside what the page itself holds
    for name in fields:
        yield fields | {name: next(values)}
    if fields:
        yield dict(zip(names, values, strict=False))
        yield {name: [value, value] for name, value in fields.items()}


def encoded(body):
    return urlencode(body, doseq=True, errors="surrogatepass")


def post(client, place, body):
    """The answer, with all that it stored taken back again."""
    with transaction.atomic():
        answer = client.post(place, encoded(body), content_type="application/x-www-form-urlencoded")
        transaction.set_rollback(True)
    return answer


@pytest.mark.strict
@pytest.mark.parametrize(("name", "route"), SENT)
def test_garbage_in_a_form_is_answered(keeper_client, examples, name, route):
    place = address(route, examples)
    page = keeper_client.get(place)
    for body in bodies(fields_of(page), forms_of(page), start=SENT.index((name, route))):
        assert post(keeper_client, place, body).status_code < 500, body


# django-tables2 says so of its own old notation, which anybody may type behind ?sort=
@pytest.mark.filterwarnings("ignore:Use '__' to separate path components")
@pytest.mark.parametrize("value", ["\x00", "\ud800", *TAKEN_ALIKE])
def test_garbage_behind_a_question_mark_is_answered(keeper_client, examples, value):
    for place in sorted({address(route, examples) for _, route in SENT}):
        question = encoded(dict.fromkeys(ASKED, value))
        assert keeper_client.get(f"{place}?{question}").status_code < 500, place


@pytest.mark.strict
@pytest.mark.parametrize("value", ["\x00", "\ud800", "9" * 30, "x" * 300])
def test_garbage_in_an_address_is_answered(keeper_client, examples, value):
    for _, route in CODED:
        place = "/" + re.sub(r"<[^>]+>", lambda _: quote(value, safe="", errors="surrogatepass"), route)
        assert keeper_client.get(place).status_code < 500, place
        assert post(keeper_client, place, {}).status_code < 500, place


def test_a_session_that_no_database_can_look_up_is_no_session(client, db, settings):
    client.cookies[settings.SESSION_COOKIE_NAME] = "aaaaaaaa\x00"
    assert client.get("/").status_code == 302
