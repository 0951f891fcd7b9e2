"""Who is signed in: kept so that a copy of the database lets nobody in, and no longer than somebody uses it."""

import sqlite3
from contextlib import closing
from datetime import timedelta
from time import monotonic

import pytest
from conftest import signed_in
from django.contrib.auth import SESSION_KEY
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.models import Session
from fleet.parsing.devices import device_words
from fleet.services.session_store import SessionStore
from inspections.project.settings import PATIENCE_S

PHONE = "Mozilla/5.0 (Android 15; Mobile; rv:140.0) Gecko/140.0 Firefox/140.0"


def key_of(client, settings):
    return client.cookies[settings.SESSION_COOKIE_NAME].value


def is_in(client):
    return client.get("/mats/").status_code == 200


def set_back(**by):
    """As if the session had begun, or been used last, so long ago."""
    row = Session.objects.get()
    for name, time in by.items():
        setattr(row, name, getattr(row, name) - time)
    row.save()


def test_what_the_database_holds_lets_nobody_in(visitor_client, settings):
    row = Session.objects.get()
    assert key_of(visitor_client, settings) not in (row.session_key, row.session_data)
    thief = Client()
    thief.cookies[settings.SESSION_COOKIE_NAME] = row.session_key
    assert is_in(visitor_client) and not is_in(thief)


def test_a_session_says_whose_it_is_and_from_where(visitor):
    visitor.set_password("muddy-hands-7")
    visitor.save()
    client = Client(REMOTE_ADDR="192.0.2.7", headers={"user-agent": PHONE})
    client.post("/sign-in/", {"username": visitor.username, "password": "muddy-hands-7"})
    row = Session.objects.get()
    assert (row.account, row.address, row.device) == (visitor, "192.0.2.7", "Firefox on Android")


def test_a_session_that_goes_on_keeps_when_it_began(visitor_client, visitor):
    set_back(started_at=timedelta(days=3))
    began = Session.objects.get().started_at
    session = visitor_client.session
    session["remembered"] = "M-001"
    session.save()
    row = Session.objects.get()
    assert (row.started_at, row.account, visitor_client.session["remembered"]) == (began, visitor, "M-001")


@pytest.mark.parametrize(
    ("ago", "ended"),
    [
        ({"seen_at": timedelta(days=13)}, False),
        ({"seen_at": timedelta(days=14)}, True),
        ({"expire_date": timedelta(days=29)}, False),
        ({"expire_date": timedelta(days=30)}, True),
    ],
)
def test_a_session_ends_when_nobody_used_it_for_a_fortnight_and_after_a_month_at_the_latest(visitor_client, ago, ended):
    set_back(**ago)
    assert is_in(visitor_client) is not ended


def test_using_it_does_not_make_it_last_longer_than_a_month(visitor_client):
    set_back(started_at=timedelta(days=20))
    session = visitor_client.session
    session["remembered"] = "M-001"
    session.save()
    row = Session.objects.get()
    assert row.expire_date - row.started_at == timedelta(days=30)


def test_who_is_here_is_noted_every_ten_minutes_with_one_query_and_else_with_none(visitor_client):
    def noting():
        with CaptureQueriesContext(connection) as asked:
            assert is_in(visitor_client)
        return sum(query["sql"].startswith("UPDATE") for query in asked)

    # the first page of all assesses
    assert is_in(visitor_client) and noting() == 0
    set_back(started_at=timedelta(minutes=11), seen_at=timedelta(minutes=11))
    before = Session.objects.get().seen_at
    assert (noting(), noting()) == (1, 0)
    assert Session.objects.get().seen_at - before > timedelta(minutes=10)


def test_dead_sessions_go_when_somebody_signs_in(visitor_client, bench_hand):
    set_back(seen_at=timedelta(days=15))
    signed_in(bench_hand)
    assert Session.objects.get().account == bench_hand


def test_a_session_of_nobody_belongs_to_no_account(db):
    store = SessionStore()
    store["remembered"] = "M-001"
    store.create()
    assert Session.objects.get().account is None
    assert SESSION_KEY not in SessionStore(store.session_key)
    assert SessionStore(store.session_key)["remembered"] == "M-001"


@pytest.mark.parametrize(
    ("says", "words"),
    [
        (PHONE, "Firefox on Android"),
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 19_0 like Mac OS X) AppleWebKit/605 Safari/604.1", "Safari on iPhone"),
        ("Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537 Chrome/140.0 Safari/537.36", "Chrome on Windows"),
        ("Mozilla/5.0 (Windows NT 10.0) AppleWebKit/537 Chrome/140.0 Safari/537.36 Edg/140.0", "Edge on Windows"),
        ("Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0", "Firefox on Linux"),
        ("<script>alert(1)</script>", "a browser"),
        ("", "a browser"),
    ],
)
def test_a_browser_is_named_as_people_know_it(says, words):
    assert device_words(says) == words


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="on PostgreSQL nobody waits for who writes another row")
@pytest.mark.django_db(transaction=True)
def test_a_page_that_only_reads_does_not_wait_for_somebody_who_writes_for_long(visitor_client):
    # the first page of all assesses, which waits
    assert is_in(visitor_client)
    set_back(seen_at=timedelta(minutes=11))
    before = Session.objects.get().seen_at
    with closing(sqlite3.connect(connection.settings_dict["NAME"])) as writer:
        writer.execute("BEGIN IMMEDIATE")
        began = monotonic()
        assert is_in(visitor_client)
        assert monotonic() - began < PATIENCE_S / 2
        assert Session.objects.get().seen_at == before
        writer.rollback()
    assert is_in(visitor_client)
    assert Session.objects.get().seen_at > before
