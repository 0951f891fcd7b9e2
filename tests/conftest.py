"""Named people, and a data folder of each test's own."""

import gc
import os
import sqlite3
import sys
from contextlib import closing, contextmanager
from copy import copy
from datetime import date
from pathlib import Path

import hypothesis
import pytest

sys.path.insert(0, str(Path(__file__).parent))

# What is imported stays: looking it through for garbage again and again took a tenth of the whole run.
gc.set_threshold(50_000, 20, 20)

SINGLE_PAGES = {Path(__file__).parent / app / "pages" for app in ("fleet", "inspections")}

# no test is a race against a slow machine
hypothesis.settings.register_profile("unhurried", parent=hypothesis.settings(), deadline=None)
hypothesis.settings.load_profile("unhurried")

# Playwright's event loop runs in the test's thread; the database calls of fixtures beside it are meant.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


@pytest.fixture(scope="session", autouse=True)
def static_root(tmp_path_factory):
    """Static files collected once, as a start of the server does it, and looked for when asked for.

    The server lists them all as it starts; here each client would, at 9 ms apiece.
    """
    from django.test import override_settings

    from inspections.static_files import collect_static_files

    root = tmp_path_factory.mktemp("collected") / "static"
    with override_settings(STATIC_ROOT=root, WHITENOISE_AUTOREFRESH=True):
        collect_static_files()
        yield


@pytest.fixture(scope="session", autouse=True)
def static_files_through_the_app():
    """Django's own server for tests answers for static files itself and knows no hashed names; here the app does."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("django.contrib.staticfiles.handlers.StaticFilesHandler", lambda app: app)
        yield


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Marked `alike`: what may not ask the database, how many queries Django sends, which is the same to either, and
    what single pages say: services and selectors are tried on both, and walks over every page.

    Who copies the tables of the tests has them made: on its own it would be given those of this checkout's own pool.
    """
    for item in items:
        if "django_db_setup" in item.fixturenames and not asks_the_database(item):
            item.add_marker(pytest.mark.django_db)
        if not may_ask_the_database(item) or "queries" in item.name or is_about_a_page(item):
            item.add_marker(pytest.mark.alike)


def may_ask_the_database(item):
    return "django_db_setup" in item.fixturenames or item.get_closest_marker("django_db") is not None


def is_about_a_page(item):
    """Of one person at one page; those who walk over all of them, and those who come at once, are not."""
    named = item.path.stem.endswith("_pages") or item.path.parent in SINGLE_PAGES
    return named and not commits(item)


def commits(item):
    mark = item.get_closest_marker("django_db")
    return "transactional_db" in item.fixturenames or bool(mark and mark.kwargs.get("transaction"))


def asks_the_database(item):
    wanted = {"db", "transactional_db", "live_server"}
    return item.get_closest_marker("django_db") is not None or not wanted.isdisjoint(item.fixturenames)


def pytest_collection_finish(session):
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker, tmp_path_factory):
    """Beside the tables of the tests, a copy as the migrations left them: running those takes some seconds each time.

    A file on SQLite, on PostgreSQL the name of a database.
    """
    from django.db import connection

    with django_db_blocker.unblock():
        if connection.vendor == "sqlite":
            copied = copied_file(connection, tmp_path_factory.mktemp("as_migrated") / "pool.sqlite3")
        else:
            copied = copied_database(connection)
    yield copied
    if connection.vendor != "sqlite":
        with django_db_blocker.unblock():
            on_server(connection, f"DROP DATABASE {copied}")


def copied_file(connection, path):
    connection.ensure_connection()
    with closing(sqlite3.connect(path)) as copy:
        connection.connection.backup(copy)
    return path


def copied_database(connection):
    name = connection.settings_dict["NAME"]
    connection.close()
    on_server(connection, f"DROP DATABASE IF EXISTS {name}_as_migrated")
    on_server(connection, f"CREATE DATABASE {name}_as_migrated TEMPLATE {name}")
    return f"{name}_as_migrated"


def on_server(connection, statement):
    with connection._nodb_cursor() as server:
        server.execute(statement)


@pytest.fixture(scope="session", autouse=True)
def quick_flush():
    """After a test that commits, PostgreSQL deletes the few rows there are: to truncate sixty tables takes longer."""
    from django.db.backends.postgresql.operations import DatabaseOperations

    truncating = DatabaseOperations.sql_flush

    def deleting(self, style, tables, *, reset_sequences=False, allow_cascade=False):
        if reset_sequences or allow_cascade or not tables:
            return truncating(self, style, tables, reset_sequences=reset_sequences, allow_cascade=allow_cascade)
        names = list(map(self.quote_name, tables))
        with self.connection.cursor() as cursor:
            cursor.execute("SELECT " + ", ".join(f"EXISTS (SELECT FROM {name})" for name in names))
            return [f"DELETE FROM {name}" for name, has_rows in zip(names, cursor.fetchone(), strict=True) if has_rows]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(DatabaseOperations, "sql_flush", deleting)
        yield


@pytest.fixture(scope="session", autouse=True)
def quick_contexts():
    """Of an answer the client keeps what the view handed to its page; a copy for each of eighty parts took time."""
    from django.test import client

    def keep(store, signal, sender, template, context, **kwargs):
        store.setdefault("templates", []).append(template)
        if "context" not in store:
            store["context"] = client.ContextList([copy(context)])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(client, "store_rendered_templates", keep)
        yield


@pytest.fixture(autouse=True)
def data_dir(settings, tmp_path):
    """Files that the app writes at run time stay inside the test."""
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()
    # a thread that copies the database while a test takes it away
    settings.DAILY_BACKUP = False
    return settings.DATA_DIR


@pytest.fixture(scope="session", autouse=True)
def quick_passwords():
    """Sessions in tests need no slow hash; accounts of an older back-up have one."""
    from django.test import override_settings

    hashers = [f"django.contrib.auth.hashers.{name}PasswordHasher" for name in ("MD5", "PBKDF2")]
    with override_settings(PASSWORD_HASHERS=hashers):
        yield


@pytest.fixture
def today():
    from django.utils import timezone

    return timezone.localdate()


@pytest.fixture
def on():
    """A fixed day for rules that are told their day."""
    return date(2026, 9, 30)


@pytest.fixture
def keeper(db):
    from factories import make_person

    return make_person("keeper", role="keeper")


@pytest.fixture
def bench_hand(db):
    from factories import make_person

    return make_person("hand", role="bench hand")


@pytest.fixture
def log_hand(db):
    """Logs events, and no more."""
    from factories import make_person

    return make_person("logger", role="log")


@pytest.fixture
def visitor(db):
    from factories import make_person

    return make_person("visitor", role="visitor")


@pytest.fixture(scope="session")
def shared_rows(django_db_setup, django_db_blocker):
    """`with shared_rows(make) as made: yield made`, in a fixture of a module or class, makes rows once for its tests.

    Each test takes back what it changed itself; tests that commit cannot stand among them.
    """
    from django.db import transaction

    @contextmanager
    def shared(make):
        with django_db_blocker.unblock(), transaction.atomic():
            made = make()
            with django_db_blocker.block():
                yield made
            transaction.set_rollback(True)

    return shared


@pytest.fixture(scope="module")
def examples(shared_rows):
    """What fills the codes in addresses."""
    from addresses import make_examples

    with shared_rows(make_examples) as made:
        yield made


@pytest.fixture
def keeper_client(keeper):
    return signed_in(keeper)


@pytest.fixture
def bench_client(bench_hand):
    return signed_in(bench_hand)


@pytest.fixture
def log_client(log_hand):
    return signed_in(log_hand)


@pytest.fixture
def visitor_client(visitor):
    return signed_in(visitor)


def signed_in(person):
    from django.test import Client

    client = Client()
    client.force_login(person)
    return client
