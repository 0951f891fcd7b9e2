"""A back-up whose SQLite database is not, to the last index, one of this app's is refused, and nothing is changed."""

import hashlib
import re
import sqlite3
import zipfile
from contextlib import closing

import pytest
from backups import AT, files_in, refusal_of, restore, rewritten
from django.conf import settings
from django.contrib.auth.models import User
from django.core.management import call_command
from django.test import override_settings
from factories import make_mat, make_person

from fleet.models import Mat
from inspections.backup.making import make_backup

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(settings.DATABASES["default"]["ENGINE"].endswith("postgresql"), reason="databases of SQLite"),
]
MEMBER = "database.sqlite3"


@pytest.fixture(scope="module")
def good(django_db_setup, django_db_blocker, tmp_path_factory):
    """A small good back-up."""
    folder = tmp_path_factory.mktemp("good")
    with django_db_blocker.unblock(), override_settings(DATA_DIR=folder):
        make_mat("M-001")
        make_person("keeper")
        make_backup(folder / "good.zip", now=AT)
        call_command("flush", interactive=False, verbosity=0)
    return folder / "good.zip"


def with_database(backup, target, content):
    """The same back-up around another database, with the checksum that it has."""
    stated = {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    return rewritten(
        backup, target, members={MEMBER: content}, change=lambda manifest: manifest["members"].update({MEMBER: stated})
    )


def crafted(backup, folder, *acts):
    """The same back-up after statements and functions were let loose on its database."""
    path = folder / MEMBER
    with zipfile.ZipFile(backup) as archive:
        archive.extract(MEMBER, folder)
    with closing(sqlite3.connect(path, isolation_level=None)) as database:
        for act in acts:
            act(database) if callable(act) else database.execute(act)
    return with_database(backup, folder / "crafted.zip", path.read_bytes())


def with_table(table, *changes):
    """Edits the very text by which a table is made."""

    def edit(database):
        database.execute("PRAGMA writable_schema = ON")
        (sql,) = database.execute("SELECT sql FROM sqlite_master WHERE name = ?", [table]).fetchone()
        for old, new in changes:
            sql, count = re.subn(old, new, sql, count=1)
            assert count == 1, sql
        database.execute("UPDATE sqlite_master SET sql = ? WHERE name = ?", [sql, table])

    return edit


def with_an_index_that_lacks_a_row(database):
    """Indexes are hidden while a row changes its number."""
    where = "WHERE type = 'index' AND tbl_name = 'fleet_mat' AND sql IS NOT NULL"
    hidden = database.execute(f"SELECT * FROM sqlite_master {where}").fetchall()
    database.execute("PRAGMA writable_schema = ON")
    database.execute(f"DELETE FROM sqlite_master {where}")
    database.execute("PRAGMA writable_schema = RESET")
    database.execute("UPDATE fleet_mat SET id = id + 50")
    database.execute("PRAGMA writable_schema = ON")
    database.executemany("INSERT INTO sqlite_master VALUES (?, ?, ?, ?, ?)", hidden)


NOT_MADE = "which this app does not make."
CRAFTED = {
    "a trigger of its own": (
        ["CREATE TRIGGER own AFTER INSERT ON fleet_mat BEGIN DELETE FROM fleet_mat; END"],
        f"It has the trigger own, {NOT_MADE}",
    ),
    "a view of its own": (["CREATE VIEW own AS SELECT * FROM auth_user"], f"It has the view own, {NOT_MADE}"),
    "a table of its own": (["CREATE TABLE own (x)"], f"It has the table own, {NOT_MADE}"),
    "an index of its own": (
        ["CREATE UNIQUE INDEX own ON fleet_mat (design_id)"],
        f"It has the index own of fleet_mat, {NOT_MADE}",
    ),
    "a column of its own": (["ALTER TABLE fleet_mat ADD COLUMN own text"], f"the column fleet_mat.own, {NOT_MADE}"),
    "a unique index dropped": (
        ["DROP INDEX segment_in_one_place"],
        "It lacks the index segment_in_one_place of fleet_fitting.",
    ),
    "an index that lets everything in": (
        ["DROP INDEX segment_in_one_place", "CREATE INDEX segment_in_one_place ON fleet_fitting (segment_id)"],
        "Its index segment_in_one_place of fleet_fitting is “CREATE INDEX SEGMENT_IN_ONE_PLACE ON",
    ),
    "a table missing": (["DROP TABLE fleet_fault"], "It lacks the table fleet_fault."),
    "a column missing": (["ALTER TABLE fleet_mat DROP COLUMN owner"], "It lacks the column fleet_mat.owner."),
    "a column of another type": (
        [with_table("fleet_mat", ('"owner" varchar.100.', '"owner" integer'))],
        "Its column fleet_mat.owner is “integer, never empty”; this app makes “varchar(100), never empty”.",
    ),
    "a column that may be empty": (
        [with_table("fleet_mat", ('"owner" varchar.100. NOT NULL', '"owner" varchar(100) NULL'))],
        "Its column fleet_mat.owner is “varchar(100)”; this app makes “varchar(100), never empty”.",
    ),
    "a default": (
        [with_table("fleet_mat", ('"owner" varchar.100.', "\\g<0> DEFAULT 'x'"))],
        "Its column fleet_mat.owner is “varchar(100), never empty, default 'x'”",
    ),
    "a check taken out": (
        [with_table("fleet_mat", (r'CHECK \("version" >= 0\)', ""))],
        'It lacks the check ( "version" > = 0 ) in fleet_mat.',
    ),
    "a uniqueness that deletes": (
        [with_table("fleet_mat", ("UNIQUE", "UNIQUE ON/**/CONFLICT REPLACE"))],
        "Its table fleet_mat is “AUTOINCREMENT, CONFLICT REPLACE”; this app makes “AUTOINCREMENT”.",
    ),
    "a foreign key that deletes": (
        [with_table("fleet_mat", (r'REFERENCES "fleet_matdesign" \("id"\)', r"\g<0> ON DELETE CASCADE"))],
        "It has the foreign key design_id to fleet_matdesign.id (no action, cascade) in fleet_mat,",
    ),
    "capitals that count for nothing": (
        [with_table("fleet_mat", ('"owner" varchar.100.', r"\g<0> COLLATE NOCASE"))],
        "Its table fleet_mat is “AUTOINCREMENT, COLLATE NOCASE”",
    ),
    "a row that names none": (
        ["UPDATE fleet_mat SET design_id = 999"],
        "do not fit together: row 1 of fleet_mat names a row of fleet_matdesign that is not there.",
    ),
    "an index that lacks a row": ([with_an_index_that_lacks_a_row], "The database in this back-up is damaged."),
    "no migration recorded": (["DELETE FROM django_migrations"], "The database in this back-up is empty."),
    "a migration of a newer version": (
        ["INSERT INTO django_migrations (app, name, applied) VALUES ('fleet', '0999_later', '2026-01-01')"],
        "is from a newer version of this app: it has fleet.0999_later",
    ),
}


@pytest.mark.parametrize("acts, says", CRAFTED.values(), ids=CRAFTED)
def test_a_crafted_database_is_refused(good, tmp_path, data_dir, acts, says):
    spoilt, before = crafted(good, tmp_path, *acts), files_in(data_dir)
    refusal = refusal_of(spoilt, replace=True)
    assert says in refusal and refusal.endswith("Nothing was restored.")
    assert (Mat.objects.count(), User.objects.count(), files_in(data_dir)) == (0, 0, before)


@pytest.mark.parametrize("content", [b"", b"SQLite format 3\0", b"\0" * 4096])
def test_a_file_that_is_no_database_is_refused(good, tmp_path, content):
    refusal = refusal_of(with_database(good, tmp_path / "x.zip", content), replace=True)
    assert re.match(r"The database in this back-up is (empty|damaged)\. Nothing was restored\.$", refusal)


@pytest.mark.django_db(transaction=True)
def test_what_the_tests_craft_from_is_restored_as_it_is(good, tmp_path):
    restore(crafted(good, tmp_path, "ANALYZE"))
    assert (Mat.objects.count(), User.objects.count()) == (1, 1)
