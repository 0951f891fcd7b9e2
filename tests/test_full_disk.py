"""A disk that is full, a database that only reads: said in a sentence, what was typed stands there.

`stress.py` tries the full disk on the real server.
"""

import pytest
from django.db import OperationalError, connection, transaction
from django.db.models.signals import post_save
from factories import make_mat, make_segment

from fleet.models import Event, Submission
from inspections.storage_failures import AWAY, BUSY, FULL, storage_error_of

EVENT = {"name": "Dyke run", "starts_on": "2026-05-02", "place": "Quay north"}
# the sentence of PostgreSQL for it is tried below: its disk cannot be filled from here
on_sqlite = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="SQLite's own limit is used")


def send(client, path, token="6b8c0a4e-0f1d-4c38-9d6e-3d7a5b1f2c90", **fields):
    body = "&".join(f"{name}={value}" for name, value in {**EVENT, "token": token, **fields}.items())
    return client.post(path, body, content_type="application/x-www-form-urlencoded")


def said(answer):
    return " ".join(answer.content.decode().partition("<main")[2].split())


@pytest.fixture
def no_room(transactional_db):
    """The database may not grow by a page: what SQLite says then is what it says of a full disk."""
    with connection.cursor() as cursor:
        # pages that earlier tests have freed would be room
        cursor.execute("VACUUM")
        (pages,) = cursor.execute("PRAGMA page_count").fetchone()
        cursor.execute(f"PRAGMA max_page_count={pages}")
        yield
        cursor.execute("PRAGMA max_page_count=1073741823")


@on_sqlite
def test_a_full_disk_is_said_in_a_sentence_and_what_was_typed_stands_there(keeper_client, no_room):
    answer = send(keeper_client, "/events/add/", place="x" * 190, name="y" * 190)
    for number in range(200):
        if answer.status_code != 302:
            break
        token = f"00000000-0000-0000-0000-{number:012}"
        answer = send(keeper_client, "/events/add/", token, name=f"{'y' * 180} {number}", place="x" * 190)
    assert answer.status_code == 507
    assert "The disk that holds the pool is full. What you sent was not stored." in said(answer)
    assert "x" * 190 in said(answer)
    assert Event.objects.count() == number


@pytest.fixture
def only_reading(transactional_db):
    is_sqlite = connection.vendor == "sqlite"
    words = "PRAGMA query_only={}" if is_sqlite else "SET default_transaction_read_only={}"
    with connection.cursor() as cursor:
        yield lambda only=True: cursor.execute(words.format("on" if only else "off"))
        cursor.execute(words.format("off"))


def test_a_database_that_only_reads_is_said_in_a_sentence(keeper_client, only_reading, caplog):
    only_reading()
    answer = send(keeper_client, "/events/add/")
    assert answer.status_code == 503
    assert "The pool can be read but not written. What you sent was not stored." in said(answer)
    assert "<dt>place</dt><dd>Quay north</dd>" in said(answer)
    (record,) = [record for record in caplog.records if record.name.startswith("inspections")]
    assert "POST /events/add/" in record.getMessage()


def test_signing_in_where_nothing_can_be_written_is_no_failure_page(client, keeper, only_reading):
    only_reading()
    answer = client.post("/sign-in/", {"username": "keeper", "password": "muddy-hands-7"})
    assert answer.status_code == 503
    assert "muddy-hands-7" not in said(answer)


def test_what_was_to_be_said_once_is_said_again_as_long_as_it_cannot_be_struck_off(keeper_client, only_reading):
    mat = make_mat("M-1")
    segment = make_segment(0.6, "C-9", mat.design.positions.get(number=1).cable_type)
    form = {"segment": segment.serial, "fitted_on": "2026-05-02", "basis": "known"}
    assert send(keeper_client, f"/mats/{mat}/positions/1/fit/", **form).status_code == 302
    only_reading(True)
    first, again = keeper_client.get("/events/"), keeper_client.get("/events/")
    assert (first.status_code, again.status_code) == (200, 200)
    assert "C-9 is in M-1 position 1." in said(first) and "C-9 is in M-1 position 1." in said(again)
    only_reading(False)
    assert "C-9 is in M-1 position 1." in said(keeper_client.get("/events/"))
    assert "C-9 is in M-1 position 1." not in said(keeper_client.get("/events/"))


def test_what_fails_after_the_act_is_not_called_unstored(client, keeper, only_reading):
    """The session, which carries the word of what was done, is written last."""
    client.raise_request_exception = False
    client.force_login(keeper)
    mat = make_mat("M-1")
    segment = make_segment(0.6, cable_type=mat.design.positions.get(number=1).cable_type)
    form = {"segment": segment.serial, "fitted_on": "2026-05-02", "basis": "known"}

    def stop_writing(sender, created, **kwargs):
        if not created:
            transaction.on_commit(only_reading)

    post_save.connect(stop_writing, sender=Submission)
    try:
        answer = send(client, "/mats/M-1/positions/1/fit/", **form)
    finally:
        post_save.disconnect(stop_writing, sender=Submission)
    assert answer.status_code == 503
    assert "Either everything you sent was stored, or nothing was. Look first." in said(answer)
    assert mat.fittings.get().segment == segment


@pytest.mark.parametrize(
    ("words", "refusal"),
    [
        ('could not extend file "base/5/2704": No space left on device', FULL),
        ("database or disk is full", FULL),
        ("database is locked", BUSY),
        ("deadlock detected", BUSY),
        ("unable to open database file", AWAY),
        ('connection failed: connection to server on socket "x" failed: No such file or directory', AWAY),
        ("no such table: fleet_mat", None),
    ],
)
def test_what_databases_say(words, refusal):
    assert storage_error_of(OperationalError(words)) is refusal


def test_another_failure_is_not_taken_for_a_full_disk():
    assert storage_error_of(RuntimeError("database or disk is full")) is None
    assert storage_error_of(OSError(28, "No space left on device")) is FULL
