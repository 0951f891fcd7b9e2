"""Whatever refuses a command is said in a sentence on stderr, with exit code 1 and no traceback."""

import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from factories import make_mat

ROOT = Path(__file__).parents[3]


@pytest.fixture
def only_reading(transactional_db):
    words = "PRAGMA query_only={}" if connection.vendor == "sqlite" else "SET default_transaction_read_only={}"
    make_mat("M-1", fitted=True, fitted_on=date(2020, 3, 1))
    with connection.cursor() as cursor:
        cursor.execute(words.format("on"))
        yield
        cursor.execute(words.format("off"))


@pytest.mark.parametrize("command", [["assess"], ["work_order", "M-1", "--out", "order.html"]])
def test_a_database_that_only_reads(only_reading, command, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(CommandError, match=r"The pool can be read but not written\. Let the account that runs"):
        call_command(*command)
    assert list(tmp_path.glob("order.html")) == []


def test_a_day_that_cannot_be_asked_for(db, today):
    make_mat("M-1", fitted=True)
    call_command("assess", verbosity=0)
    with pytest.raises(CommandError, match="assessed"):
        call_command("due", "--on", "2020-01-01")


def run(command, folder, unbuffered, prints_to):
    environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    environment |= {"HALFPOWER_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "inspections.project.settings"}
    environment["PYTHONUNBUFFERED"] = unbuffered
    command = [sys.executable, "-m", "django", *command]
    return subprocess.run(command, cwd=ROOT, env=environment, stdout=prints_to, stderr=subprocess.PIPE, text=True)


@pytest.mark.process
@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no device that is always full")
def test_a_full_disk_under_what_is_printed(folder, unbuffered):
    with open("/dev/full", "w") as full:
        done = run(["due", "--format", "json"], folder, unbuffered, prints_to=full)
    assert done.stderr == "CommandError: What was to be printed could not be written: No space left on device.\n"
    assert done.returncode == 1


@pytest.mark.process
@pytest.mark.parametrize("command, unbuffered", [(["due", "--format", "csv"], ""), (["assess"], "1")])
def test_a_reader_that_has_gone_is_told_nothing_and_stops_nothing(folder, command, unbuffered):
    reader, prints_to = os.pipe()
    os.close(reader)
    try:
        done = run(command, folder, unbuffered, prints_to)
    finally:
        os.close(prints_to)
    assert (done.returncode, done.stderr) == (0, "")
