"""A pool on a disk that is full or only reads: reading, back-ups and exports go on; whoever writes is told why not."""

import os
import resource
import sqlite3
import subprocess
import sys
import zipfile
from contextlib import closing, contextmanager

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError
from factories import make_instrument

from inspections.backup.sqlite_schema import as_the_pool
from inspections.models import Instrument

pytestmark = [pytest.mark.process, pytest.mark.django_db(transaction=True)]
INSERT = """INSERT INTO inspections_instrument
    (recorded_at, version, withdrawal_reason, name, standard_uncertainty_db, name_key, kind, leads_taken_out)
    VALUES ('2026-09-30 12:00:00', 1, '', 'bridge', 0.1, 'bridge', '', 0)"""
WRITE = f"""
import os, sqlite3, sys
pool = sqlite3.connect(sys.argv[1])
pool.execute("PRAGMA journal_mode=WAL")
pool.execute({INSERT!r})
pool.commit()
if sys.argv[2] == "and die":
    os.kill(os.getpid(), 9)
pool.close()
"""


@pytest.fixture(params=["and die", "and close"])
def pool(folder, settings, request):
    """A pool with one instrument, which lies in the log where the process that wrote it was killed."""
    settings.DATA_DIR = folder
    written = subprocess.run([sys.executable, "-c", WRITE, folder / "pool.sqlite3", request.param], capture_output=True)
    assert not written.stderr, written.stderr.decode()
    assert (folder / "pool.sqlite3-wal").exists() == (request.param == "and die")
    return folder


@contextmanager
def only_reading(folder):
    """The folder as a disk that only reads has it; root, whom no permission stops, has to mount it so."""
    if os.geteuid():
        undo = ["chmod", "-R", "u+w", folder]
        subprocess.run(["chmod", "-R", "a-w", folder], check=True)
    else:
        undo = ["umount", folder]
        if subprocess.run(["mount", "--bind", folder, folder], capture_output=True).returncode:
            pytest.skip("nothing can be mounted here")
        subprocess.run(["mount", "-o", "remount,bind,ro", folder], check=True)
    try:
        yield
    finally:
        subprocess.run(undo, check=True)


@contextmanager
def full_disk():
    """No file may grow: what the system then says of a file, SQLite says of a full disk."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def instruments_in(archive, tmp_path):
    with zipfile.ZipFile(archive) as made, closing(sqlite3.connect(made.extract("database.sqlite3", tmp_path))) as copy:
        return copy.execute("SELECT name FROM inspections_instrument").fetchall()


def test_back_up_and_export_go_from_a_disk_that_only_reads_to_another(pool, tmp_path):
    with only_reading(pool), as_the_pool(pool / "pool.sqlite3"):
        call_command("backup", tmp_path / "stick.zip", verbosity=0)
        call_command("export", tmp_path / "files", verbosity=0)
    assert instruments_in(tmp_path / "stick.zip", tmp_path) == [("bridge",)]
    assert "bridge,0.1" in (tmp_path / "files" / "instruments.csv").read_text("utf-8")


@pytest.mark.parametrize("command", [["assess"], ["load", "files"], ["backup", "pool/x.zip"], ["export", "pool/out"]])
def test_what_would_write_there_is_refused_in_a_sentence(pool, tmp_path, command, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "files").mkdir()
    (tmp_path / "files" / "instruments.csv").write_text("instrument,standard_uncertainty_db\nanalyser,0.2\n", "utf-8")
    with only_reading(pool), as_the_pool(pool / "pool.sqlite3"):
        with pytest.raises(CommandError, match=r"cannot be written: Read-only|can be read but not written|Permission"):
            call_command(*command, verbosity=0)
        assert [row.name for row in Instrument.objects.all()] == ["bridge"]


def test_a_full_disk_can_be_read_also_by_whoever_opens_the_database_first(pool):
    with full_disk(), as_the_pool(pool / "pool.sqlite3"):
        names = [row.name for row in Instrument.objects.all()]
        with pytest.raises(OperationalError, match=r"disk is full|disk I/O error"):
            make_instrument("analyser")
    assert names == ["bridge"]
    with as_the_pool(pool / "pool.sqlite3"):
        make_instrument("analyser")
        assert Instrument.objects.count() == 2
