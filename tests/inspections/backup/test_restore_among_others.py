"""A restore on PostgreSQL while others use the pool: all wait for a turn, and nothing that was confirmed is lost."""

import threading
import time
import zipfile
from contextlib import contextmanager
from itertools import count

import pytest
from backups import AT, refusal_of, restore, whole_pool
from django.db import connection, transaction
from django.test import Client
from factories import make_mat

from fleet.models import Depot, Mat
from inspections.backup import postgres_locks
from inspections.backup.making import make_backup
from inspections.backup.restoring import restore_backup
from inspections.files.saving import export_zip

pytestmark = pytest.mark.django_db(transaction=True)
WRITERS = 4
# its page keeps what was sent, and asks to sign in
SIGNED_OUT = 401
# its page says so, and to check whether it was saved
SIGNED_OUT_MEANWHILE = 400


@pytest.fixture(autouse=True)
def on_postgres():
    if connection.vendor != "postgresql":
        pytest.skip("SQLite locks the whole database")


@contextmanager
def meanwhile(*acts):
    """Each act in a thread of its own, with a connection of its own."""
    failures = []

    def run(act):
        try:
            act()
        except Exception as failure:
            failures.append(failure)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[act]) for act in acts]
    for thread in threads:
        thread.start()
    yield
    for thread in threads:
        thread.join(60)
    assert failures == []


def depots_in(backup):
    with zipfile.ZipFile(backup) as archive:
        rows = archive.read("database.pgdump").decode()
    block = rows[rows.index('COPY "fleet_depot"') :].split("\n\\.\n")[0]
    return {cell for line in block.splitlines()[1:] for cell in line.split("\t") if cell.startswith("W-")}


def test_those_who_write_meanwhile_lose_nothing_and_meet_no_error(keeper, backup, data_dir):
    """Each sends one form after another, signs in again when the restore has signed it out, and is never refused."""
    stop, begun, confirmed, other = threading.Event(), threading.Barrier(WRITERS + 1), set(), []

    def writing(writer):
        def write():
            browser = Client()
            browser.force_login(keeper)
            begun.wait(30)
            for number in count():
                name = f"W-{writer}-{number}"
                answer = browser.post("/depots/add/", {"name": name})
                if answer.status_code == SIGNED_OUT:
                    browser.force_login(keeper)
                elif answer.status_code == 302:
                    confirmed.add(name)
                elif answer.status_code != SIGNED_OUT_MEANWHILE:
                    other.append(answer.status_code)
                if stop.is_set():
                    return

        return write

    with meanwhile(*(writing(writer) for writer in range(WRITERS))):
        begun.wait(30)
        try:
            restore(backup, replace=True)
        finally:
            stop.set()
    kept = {name for copy in (data_dir / "copies").iterdir() for name in depots_in(copy)}
    kept |= set(Depot.objects.values_list("name", flat=True))
    assert other == []
    assert len(confirmed) > WRITERS
    assert confirmed - kept == set()


def test_a_restore_gives_up_in_a_sentence_when_the_pool_is_never_free(backup, monkeypatch, data_dir):
    monkeypatch.setattr(postgres_locks, "PATIENCE_S", 1)
    before, reading, done = whole_pool(data_dir), threading.Event(), threading.Event()

    def read_on():
        with transaction.atomic():
            Mat.objects.count()
            reading.set()
            done.wait(60)

    with meanwhile(read_on):
        reading.wait(30)
        refusal = refusal_of(backup, replace=True)
        done.set()
    assert refusal == (
        "The pool was in use for 1 seconds on end. Stop the app, and what else reads or writes its database, then try "
        "again. Nothing was restored."
    )
    assert whole_pool(data_dir) == before


def test_whoever_comes_while_tables_change_places_waits_and_finds_the_restored_pool(backup, data_dir):
    make_mat("M-777")
    inside, exported, seen = threading.Event(), [], []

    def say(sentence):
        """Called when all is locked: until the others have come to wait, nothing goes on."""
        if sentence.startswith("These records are removed"):
            inside.set()
            until = time.monotonic() + 30
            while waiting() < 2 and time.monotonic() < until:
                time.sleep(0.02)

    def export():
        inside.wait(60)
        with export_zip() as stream, zipfile.ZipFile(stream) as archive:
            exported.append(archive.read("mats.csv").decode())

    def write():
        inside.wait(60)
        make_mat("M-778")
        seen.append(sorted(Mat.objects.values_list("number", flat=True)))

    with meanwhile(export, write):
        restore_backup(backup, replace=True, now=AT, notify=say)
    assert seen == [["M-001", "M-778"]]
    assert "M-001" in exported[0] and "M-777" not in exported[0]


def waiting():
    """How many wait for a lock."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(DISTINCT pid) FROM pg_locks WHERE NOT granted")
        return cursor.fetchone()[0]


def test_two_restores_at_once_take_turns(one_of_everything, tmp_path, data_dir):
    for number in ("first", "second"):
        make_mat(number)
        make_backup(tmp_path / f"{number}.zip", now=AT)
    with meanwhile(
        *(lambda name=name: restore(tmp_path / f"{name}.zip", replace=True) for name in ("first", "second"))
    ):
        pass
    numbers = sorted(Mat.objects.values_list("number", flat=True))
    assert numbers in (["M-001", "first"], ["M-001", "first", "second"])
    assert len(list((data_dir / "copies").iterdir())) == 2


def test_a_restore_that_waits_too_long_for_another_says_so(backup, monkeypatch):
    monkeypatch.setattr(postgres_locks, "PATIENCE_S", 1)
    taken, done = threading.Event(), threading.Event()

    def take():
        with transaction.atomic(), connection.cursor() as cursor:
            postgres_locks.take_turn(cursor)
            taken.set()
            done.wait(60)

    with meanwhile(take):
        taken.wait(30)
        refusal = refusal_of(backup, replace=True)
        done.set()
    assert refusal == (
        "Another restore is under way in this database. Wait until it is done, then try again. Nothing was restored."
    )
