"""Where a sign-in leads, and which session it leaves behind."""

import pytest
from django.test import Client

from fleet.models import Session
from fleet.models.accounts import hash_of

RIGHT = "muddy-hands-7"
HOSTILE = [
    "https://evil.example/",
    "//evil.example",
    "///evil.example",
    "////evil.example",
    "/\\evil.example",
    "\\\\evil.example",
    "\\/evil.example",
    "/\t/evil.example",
    "\t//evil.example",
    " //evil.example",
    "http:evil.example",
    "http:/evil.example",
    "https:///evil.example",
    "//evil.example\\@testserver",
    "http://testserver@evil.example/",
    "//testserver.evil.example/",
    "javascript:alert(1)",
    "data:text/html,x",
    "evil.example",
    "mats",
    "?x",
    "#x",
    "//[::1",
    "\x00//evil.example",
    "/\n/evil.example",
    "ftp://testserver/",
    "http://",
]


def sign_in(client, name="keeper", **fields):
    return client.post("/sign-in/", {"username": name, "password": RIGHT} | fields)


def key_of(client, settings):
    return client.cookies[settings.SESSION_COOKIE_NAME].value


@pytest.mark.parametrize("again", ["keeper", "visitor"])
def test_signing_in_over_a_live_session_ends_that_one(client, keeper, visitor, settings, again):
    sign_in(client)
    first = key_of(client, settings)
    assert sign_in(client, again).status_code == 302
    assert key_of(client, settings) != first
    assert not Session.objects.filter(pk=hash_of(first)).exists()
    client.cookies[settings.SESSION_COOKIE_NAME] = first
    assert client.get("/mats/").status_code == 302


def test_a_session_from_before_the_sign_in_is_worth_nothing_after_it(client, keeper, settings):
    planted = "a" * 32
    client.cookies[settings.SESSION_COOKIE_NAME] = planted
    sign_in(client)
    assert key_of(client, settings) != planted
    assert Client(headers={"Cookie": f"{settings.SESSION_COOKIE_NAME}={planted}"}).get("/mats/").status_code == 302


@pytest.mark.parametrize("place", HOSTILE)
def test_signing_in_leads_to_no_other_place(client, keeper, place):
    assert client.get("/sign-in/", {"next": place}).status_code == 200
    for answer in (
        sign_in(client, next=place),
        client.post(f"/sign-in/?next={place.strip()}", {"username": "keeper", "password": RIGHT}),
    ):
        assert (answer.status_code, answer.url) == (302, "/")


@pytest.mark.parametrize("place", ["/mats/?q=a%20b", "/mats/M-1/#positions", "/none-such/"])
def test_signing_in_leads_to_where_somebody_wanted_to_go(client, keeper, place):
    assert sign_in(client, next=place).url == place
