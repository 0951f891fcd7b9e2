"""What is no good is refused, and the pool stays as it was."""

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from backups import AT, files_in, refusal_of, restore, rewritten, whole_pool, write
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from inspections.backup.custom_dump import path_of
from inspections.backup.files import swapping_files
from inspections.backup.making import make_backup
from inspections.backup.sqlite_schema import as_the_pool
from inspections.files.saving import export_zip

ROOT = Path(__file__).parents[3]
pytestmark = pytest.mark.django_db(transaction=True)


def newer_app(manifest):
    manifest["migrations"].append(["fleet", "0999_from_the_future"])


def newer_file(manifest):
    manifest["format"] += 1


def too_large(manifest):
    next(iter(manifest["members"].values()))["bytes"] = 10**15


def lying_checksum(manifest):
    next(iter(manifest["members"].values()))["sha256"] = "0" * 64


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (newer_app, "made by a newer version of this app: it has fleet.0999_from_the_future"),
        (newer_file, "was made by a newer version of this app"),
        (too_large, "more than a back-up of its size can hold"),
        (lying_checksum, "is cut off or damaged"),
        (lambda manifest: manifest.pop("made_at"), "is cut off or damaged"),
        (lambda manifest: manifest.update(members=[]), "is cut off or damaged"),
        (lambda manifest: manifest.update(made_at=3), "is cut off or damaged"),
        (lambda manifest: manifest.update(held=3), "is cut off or damaged"),
    ],
)
def test_a_back_up_that_does_not_fit_is_refused(backup, tmp_path, data_dir, change, says):
    spoilt, before = rewritten(backup, tmp_path / "spoilt.zip", change=change), whole_pool(data_dir)
    refusal = refusal_of(spoilt, replace=True)
    assert says in refusal and str(spoilt) in refusal and refusal.endswith("Nothing was restored.")
    assert whole_pool(data_dir) == before
    assert not (data_dir / "copies").exists()


def test_a_back_up_of_the_other_kind_of_database_says_what_to_do(backup, tmp_path):
    kinds = {"sqlite": ("SQLite", "database.sqlite3"), "postgresql": ("PostgreSQL", "database.pgdump")}
    ours, our_member = kinds.pop(connection.vendor)
    ((other, (theirs, their_member)),) = kinds.items()

    def change(manifest):
        manifest["database"] = other
        manifest["members"][their_member] = manifest["members"].pop(our_member)

    foreign = rewritten(backup, tmp_path / "foreign.zip", change=change, renamed={our_member: their_member})
    refusal = refusal_of(foreign, replace=True)
    assert f"a back-up of a pool kept in {theirs}; this one is kept in {ours}" in refusal
    assert "with export, and load them here" in refusal


@pytest.mark.parametrize(
    "name",
    [
        "../evil", "/etc/evil", "files/../evil/x", "files/uploads/../../evil", "files/secret_key", "secret_key",
        "files/static/x.js", "files/copies/daily-2026-01-01.zip", "files//evil", "files/C:/evil/x", "files/up\\..\\x/y",
        "files/.restore/x",
    ],
)  # fmt: skip
def test_a_member_that_leads_elsewhere_is_refused(backup, tmp_path, data_dir, name):
    def change(manifest):
        manifest["members"][name] = {
            "bytes": 4,
            "sha256": "88d4266fd4e6338d13b845fcf289579d209c897823b9217da3e161936f031589",
        }

    spoilt = rewritten(backup, tmp_path / "spoilt.zip", change=change, members={name: b"abcd"})
    before = files_in(tmp_path)
    assert "which leads to a place where no file of a pool belongs" in refusal_of(spoilt, replace=True)
    assert files_in(tmp_path) == before


def test_a_member_that_the_manifest_does_not_name_is_refused(backup, tmp_path):
    spoilt = rewritten(backup, tmp_path / "spoilt.zip", members={"files/uploads/x": b"abcd"})
    assert "holds other files than it says" in refusal_of(spoilt, replace=True)


def test_a_member_that_unpacks_to_more_than_it_says_is_refused(backup, tmp_path):
    name = "files/sweeps/2026/M-001.s2p"
    spoilt = rewritten(backup, tmp_path / "spoilt.zip", members={name: bytes(200 << 20)})
    assert "is cut off or damaged" in refusal_of(spoilt, replace=True)


def test_what_is_no_back_up_is_refused(one_of_everything, tmp_path, data_dir):
    before = whole_pool(data_dir)
    write(tmp_path / "picture.png", b"\x89PNG\r\n\x1a\n" * 50)
    write(tmp_path / "empty.zip", b"")
    with export_zip() as stream:
        write(tmp_path / "export.zip", stream.read())
    for name in ("picture.png", "empty.zip", "export.zip"):
        assert "is not a back-up of a pool. Nothing was restored." in refusal_of(tmp_path / name, replace=True)
    assert "cannot be read: No such file" in refusal_of(tmp_path / "nowhere.zip", replace=True)
    assert "cannot be read: Is a directory" in refusal_of(tmp_path, replace=True)
    assert whole_pool(data_dir) == before


def test_a_back_up_that_is_cut_off_anywhere_is_refused(backup, tmp_path, data_dir):
    content, cut, before = backup.read_bytes(), tmp_path / "cut.zip", whole_pool(data_dir)
    lengths = {*range(4), *range(4, len(content), len(content) // 60), *range(len(content) - 40, len(content))}
    for length in sorted(lengths):
        cut.write_bytes(content[:length])
        assert "Nothing was restored." in refusal_of(cut, replace=True), length
    assert whole_pool(data_dir) == before


def test_a_restore_that_fails_in_the_middle_leaves_the_pool_as_it_was(one_of_everything, tmp_path, data_dir):
    broken, recorder = tmp_path / "broken.zip", MigrationRecorder(connection)
    write(data_dir / "sweeps" / "gone-since.s2p", b"in the back-up only")
    recorder.record_unapplied("contenttypes", "0001_initial")
    try:
        make_backup(broken, now=AT)
    finally:
        recorder.record_applied("contenttypes", "0001_initial")
    (data_dir / "sweeps" / "gone-since.s2p").unlink()
    before = whole_pool(data_dir)
    assert "could not be brought up to date: Migration contenttypes.0002" in refusal_of(broken, replace=True)
    assert whole_pool(data_dir) == before


def test_what_is_laid_in_before_a_failure_is_taken_away_again(backup, data_dir, tmp_path):
    write(tmp_path / "unpacked" / "files" / "sweeps" / "new" / "far.s2p", b"new")
    before = files_in(data_dir)
    with pytest.raises(ZeroDivisionError), swapping_files(["files/sweeps/new/far.s2p"], tmp_path / "unpacked"):
        assert (data_dir / "sweeps" / "new" / "far.s2p").read_bytes() == b"new"
        raise ZeroDivisionError
    assert files_in(data_dir) == before
    assert not (data_dir / "sweeps" / "new").exists()


def test_a_tool_that_is_not_installed_is_named(tmp_path):
    with pytest.raises(ValidationError, match="PostgreSQL's tool pg_nowhere was not found"):
        path_of("pg_nowhere")


# The command in a place of its own, on SQLite


@pytest.fixture
def own_place(tmp_path):
    """`manage.py` in a process and a data folder of its own: 4 s each."""
    if connection.vendor != "sqlite":
        pytest.skip("the file is put in place of a SQLite database")
    environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    environment |= {"HALFPOWER_DATA": str(tmp_path / "own"), "DJANGO_SETTINGS_MODULE": "inspections.project.settings"}

    def run(*arguments):
        command = [sys.executable, "-m", "django", *map(str, arguments)]
        return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True)

    return run


def mats_in(database):
    with closing(sqlite3.connect(database)) as opened:
        return [number for (number,) in opened.execute("SELECT number FROM fleet_mat")]


@pytest.mark.process
def test_a_place_without_any_database_backs_up_nothing_and_restores(own_place, backup, tmp_path):
    refused = own_place("backup", tmp_path / "none.zip")
    assert refused.stderr == "CommandError: There is no pool here yet, so there is nothing to back up.\n"
    assert own_place("restore", backup).stderr == ""
    assert mats_in(tmp_path / "own" / "pool.sqlite3") == ["M-001"]


def test_a_damaged_database_is_set_aside(backup, data_dir):
    if connection.vendor != "sqlite":
        pytest.skip("a file is damaged that SQLite keeps the pool in")
    database = data_dir / "pool.sqlite3"
    write(database, b"not a database" * 4096)
    write(data_dir / "sweeps" / "later.s2p", b"later")
    with as_the_pool(database):
        assert refusal_of(backup).startswith(
            "The pool's database is damaged. This pool has files that the back-up does not hold: sweeps/later.s2p. "
            "Nothing was restored."
        )
        said = restore(backup, replace=True)
    (aside,) = (data_dir / "copies").glob("damaged-*")
    assert f"The damaged database was moved to {aside}." in said
    assert (aside / "pool.sqlite3").read_bytes() == b"not a database" * 4096
    assert (aside / "files" / "sweeps" / "later.s2p").read_bytes() == b"later"
    assert mats_in(database) == ["M-001"]
