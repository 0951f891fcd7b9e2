"""What a page has confirmed is on the disk before it says so.

That SQLite then waits for the disk at each commit was looked at with strace; here, that the app asks for it.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import connection

from inspections.durable_files import sync_folder, write_durably

ROOT = Path(__file__).parents[3]
FULL = 2


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="PostgreSQL waits unless its owner says not to")
def test_each_commit_waits_for_the_disk(db):
    with connection.cursor() as cursor:
        assert cursor.execute("PRAGMA synchronous").fetchone() == (FULL,)
        assert cursor.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_file_is_written_whole_for_its_owner_and_never_over_another(tmp_path):
    write_durably(tmp_path / "key", b"muddy", mode=0o600)
    sync_folder(tmp_path)
    assert (tmp_path / "key").read_bytes() == b"muddy"
    assert (tmp_path / "key").stat().st_mode & 0o777 == 0o600
    with pytest.raises(FileExistsError):
        write_durably(tmp_path / "key", b"clean")
    assert (tmp_path / "key").read_bytes() == b"muddy"


@pytest.mark.process
def test_a_key_that_a_power_cut_emptied_is_made_anew(data_dir):
    (data_dir / "secret_key").touch()
    environment = os.environ | {"HALFPOWER_DATA": str(data_dir)}
    code = "from inspections.project.settings import SECRET_KEY; print(len(SECRET_KEY))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True)
    assert (done.stdout, done.stderr) == ("67\n", "")
    assert [path.name for path in data_dir.iterdir()] == ["secret_key"]
    assert len((data_dir / "secret_key").read_text()) == 67
