"""A damaged database is never written on, no copy of it takes the place of a good one, and it is said what to do."""

import shutil
from datetime import datetime, timedelta

import damaged
import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.utils.timezone import localtime
from factories import make_event, make_mat, make_person

from fleet.models import Event
from inspections.backup import damage, sqlite
from inspections.backup.daily import make_daily_backup
from inspections.backup.damage import newest_good_backup
from inspections.backup.database_startup import open_pool
from inspections.backup.sqlite_schema import as_the_pool

pytestmark = [pytest.mark.process, pytest.mark.django_db(transaction=True)]
AT = datetime.fromisoformat("2026-09-30T18:04:00+02:00")
PASSWORD = "muddy-hands-7"


@pytest.fixture
def pool(folder, settings):
    """The file of a pool with a mat, an event and a keeper, and the copies of two days beside it."""
    settings.DATA_DIR = folder
    path = folder / "pool.sqlite3"
    with as_the_pool(path):
        make_mat("M-1")
        make_event(name="Dyke run")
        make_person("keeper", role="keeper")
        for days in (1, 0):
            make_daily_backup(AT - timedelta(days=days))
        yield path
    damage._met["damage"] = False


def copies_beside(path):
    return {copy.name: copy.read_bytes() for copy in (path.parent / "copies").glob("*.zip")}


def start_is_refused(path):
    with pytest.raises(ValidationError) as refused:
        open_pool(now=AT, notify=print)
    (sentence,) = refused.value.messages
    return sentence


@pytest.mark.parametrize("harm", damaged.ALL, ids=lambda harm: harm.__name__)
def test_a_start_names_the_newest_good_copy_and_changes_nothing(pool, harm):
    connection.close()
    harm(pool)
    before, copies = pool.read_bytes(), copies_beside(pool)
    said = start_is_refused(pool)
    assert f"The database {pool} is damaged. The newest good copy is of {localtime(AT):%d %B %Y at %H:%M}." in said
    assert f"python3 manage.py restore {pool.parent}/copies/daily-2026-09-30.zip --replace" in said
    with pytest.raises(ValidationError, match="is damaged, so no back-up of it was made"):
        make_daily_backup(AT + timedelta(days=1))
    assert (pool.read_bytes(), copies_beside(pool)) == (before, copies)


def test_the_command_that_is_named_puts_the_copy_in_place(pool):
    connection.close()
    damaged.table_page_zeroed(pool)
    *_, copy, replace = start_is_refused(pool).split()
    call_command("restore", copy, replace, verbosity=0)
    open_pool(now=AT, notify=print)
    assert Event.objects.get().name == "Dyke run"


def test_a_large_pool_of_which_only_an_index_is_damaged_is_put_aside_as_well(pool, monkeypatch):
    monkeypatch.setattr(sqlite, "CHECKED_WHOLE_BYTES", 0)
    Event.objects.update(name="Later")
    connection.close()
    damaged.index_of_another(pool)
    call_command("restore", pool.parent / "copies" / "daily-2026-09-30.zip", "--replace", verbosity=0)
    assert Event.objects.get().name == "Dyke run"


def test_a_copy_that_is_damaged_itself_is_passed_over(pool):
    newest, older = (pool.parent / "copies" / f"daily-2026-09-{day}.zip" for day in (30, 29))
    assert newest_good_backup()[0] == newest
    damaged.cut_in_half(newest)
    assert newest_good_backup()[0] == older
    shutil.rmtree(pool.parent / "copies")
    connection.close()
    damaged.header_zeroed(pool)
    assert "There is no good copy of it in" in start_is_refused(pool)


@pytest.mark.parametrize("harm", [damaged.cut_to_nothing, lambda path: path.unlink()], ids=["emptied", "gone"])
def test_a_pool_that_is_gone_is_not_taken_for_a_first_start(pool, harm):
    connection.close()
    harm(pool)
    said = start_is_refused(pool)
    assert "is gone or empty, but copies of a pool lie beside it" in said
    assert f"manage.py restore {pool.parent}/copies/daily-2026-09-30.zip" in said
    with pytest.raises(ValidationError, match="nothing to back up"):
        make_daily_backup(AT + timedelta(days=1))


def test_a_page_that_meets_damage_says_so_and_nothing_more_is_stored(pool):
    client = Client()
    client.post("/sign-in/", {"username": "keeper", "password": PASSWORD})
    form = {"name": "Quay run", "starts_on": "2026-05-02", "token": "6b8c0a4e-0f1d-4c38-9d6e-3d7a5b1f2c90"}
    connection.close()
    damaged.table_page_zeroed(pool)
    for answer in (client.get("/mats/"), client.post("/events/add/", form)):
        assert answer.status_code == 503
        assert "The database of the pool is damaged." in answer.content.decode()
    assert client.get("/events/").status_code == 200
    assert [event.name for event in Event.objects.all()] == ["Dyke run"]
