"""A start that is cut short at any byte leaves the pool as it was, and the next one goes through."""

import resource
import sqlite3
from contextlib import ExitStack, closing, contextmanager
from datetime import datetime, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models.signals import post_migrate, pre_migrate
from factories import make_mat

from fleet.models import Mat
from inspections.backup.database_startup import open_pool
from inspections.backup.schema import applied_migrations
from inspections.backup.sqlite_schema import as_the_pool, description, expected_description

pytestmark = [pytest.mark.process, pytest.mark.django_db(transaction=True)]
AT = datetime.fromisoformat("2026-09-30T18:04:00+02:00")


@contextmanager
def files_up_to(size_bytes):
    """No file may grow beyond this, as on a disk that fills up."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size_bytes, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.fixture
def pool(folder, settings):
    """A pool without any record, in place of the one that tests use."""
    settings.DATA_DIR = folder
    with as_the_pool(folder / "pool.sqlite3"):
        yield folder / "pool.sqlite3"


def start(now=AT):
    open_pool(now=now, notify=print)


def written(path, *statements):
    connection.close()
    with closing(sqlite3.connect(path)) as opened, opened:
        for statement in statements:
            opened.execute(statement)


def is_as_migrated():
    connection.ensure_connection()
    return description(connection.connection) == expected_description()


def left_in(folder):
    return sorted(path.name for path in folder.iterdir() if path.name.startswith("."))


def test_a_pool_whose_first_start_was_cut_between_a_table_and_its_record_is_made_anew_once_there_is_room(pool):
    written(pool, "DELETE FROM django_migrations WHERE id > 2")
    before = applied_migrations()
    for room_bytes in (20_000, 300_000):
        with files_up_to(room_bytes), pytest.raises(ValidationError, match=r"The disk .*start again\."):
            start()
        assert (applied_migrations(), left_in(pool.parent)) == (before, [])
    start()
    assert is_as_migrated()


@pytest.fixture
def older_pool(older_folder, settings):
    """One with a mat, from before the newest changes of its tables."""
    settings.DATA_DIR = older_folder
    with as_the_pool(older_folder / "pool.sqlite3"):
        make_mat("M-1")
        connection.close()
        yield older_folder / "pool.sqlite3"


@contextmanager
def full_from(signal):
    """The disk is full from the moment that Django tells of."""
    with ExitStack() as full:

        def fill(**_):
            full.enter_context(files_up_to(0))

        signal.connect(fill)
        full.callback(signal.disconnect, fill)
        yield


@pytest.mark.parametrize("signal", [pre_migrate, post_migrate], ids=["while changed", "while put in place"])
def test_an_update_on_a_disk_that_fills_up_leaves_the_pool_as_it_was(older_pool, signal):
    before = applied_migrations()
    with full_from(signal), pytest.raises(ValidationError, match=r"The disk .*start again\. The pool is as it was\."):
        start()
    assert (applied_migrations(), Mat.objects.get().number, left_in(older_pool.parent)) == (before, "M-1", [])


def test_an_update_without_room_for_the_copy_that_precedes_it_does_not_begin(older_pool):
    said = r"The disk that holds the pool .* Then start again\. The pool is as it was\."
    with files_up_to(100_000), pytest.raises(ValidationError, match=said):
        start()
    assert Mat.objects.get().number == "M-1"
    assert list((older_pool.parent / "copies").iterdir()) == []


def test_an_update_of_a_pool_that_another_program_writes_to_is_given_up(older_pool):
    def write(**_):
        with closing(sqlite3.connect(older_pool)) as other, other:
            other.execute("UPDATE fleet_mat SET number = 'M-2'")

    pre_migrate.connect(write)
    try:
        with pytest.raises(ValidationError, match="Another program wrote to the pool while it was brought up to date"):
            start()
    finally:
        pre_migrate.disconnect(write)
    assert Mat.objects.get().number == "M-2"
    start(AT + timedelta(minutes=1))
    assert is_as_migrated()
    assert Mat.objects.get().number == "M-2"
