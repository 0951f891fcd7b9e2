"""Whoever else has an account on the pool's computer reads none of its files."""

import os
import socket
import stat
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection
from served import run, serving

from inspections.owner_only import close_files

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has no such rights")
OTHERS = stat.S_IRWXG | stat.S_IRWXO


def mode_of(path):
    return stat.S_IMODE(path.lstat().st_mode)


def open_to_others(folder):
    """The folder and whatever lies in it that others may use."""
    paths = [path for path in (folder, *folder.rglob("*")) if not path.is_symlink()]
    return sorted(path.relative_to(folder).as_posix() for path in paths if mode_of(path) & OTHERS)


def write(path, mode=0o644):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("muddy")
    path.chmod(mode)
    return path


@contextmanager
def whoever_asks_for_nothing():
    """The user's own way to make files is as open as can be."""
    before = os.umask(0)
    try:
        yield
    finally:
        os.umask(before)


@pytest.fixture
def port():
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        return listening.getsockname()[1]


@pytest.mark.process
def test_what_stood_open_is_closed_by_the_next_start_and_what_it_makes_is_closed_from_the_first_moment(folder, port):
    write(folder / "sweeps" / "2026" / "M-001.s2p")
    for path in (folder, *folder.rglob("*")):
        path.chmod(mode_of(path) | 0o755)
    with whoever_asks_for_nothing(), serving(folder, port) as (process, _):
        assert open_to_others(folder) == []
        made = {path.name for path in folder.iterdir()}
        assert made == {
            *("pool.sqlite3", "pool.sqlite3-wal", "pool.sqlite3-shm"),
            *("secret_key", "starting.lock", "static", "sweeps"),
        }
        process.kill()
        assert process.communicate()[1].endswith(
            f"The pool's files in {folder} stood open to the other accounts of this computer. They are closed now: "
            "only their owner can read them. If somebody may have read them, give everybody a new password.\n"
        )


@pytest.mark.process
def test_a_new_folder_is_closed_with_its_key_and_nothing_is_said(tmp_path):
    folder = tmp_path / "pools" / "ours"
    with whoever_asks_for_nothing():
        done = run(folder, "check")
    assert done.returncode == 0 and "stood open" not in done.stderr
    assert (mode_of(folder), mode_of(folder / "secret_key")) == (0o700, 0o600)


def test_what_is_closed_is_left_without_a_word(data_dir):
    write(data_dir / "copies" / "daily-2026-11-26.zip", mode=0o400)
    write(data_dir / "secret_key", mode=0o600)
    data_dir.chmod(0o500)
    try:
        assert close_files() == []
        assert mode_of(data_dir) == 0o500
    finally:
        data_dir.chmod(0o700)


def test_in_a_folder_that_also_holds_what_is_somebody_elses_only_the_pools_files_are_closed(data_dir):
    theirs = [write(data_dir / "letter.txt"), write(data_dir / "my papers" / "thesis.txt"), data_dir / "my papers"]
    theirs += [write(data_dir / "secret_key.old"), write(data_dir / ".restore.notes")]
    ours = [write(data_dir / "secret_key"), write(data_dir / "uploads" / "ab" / "mats.csv"), data_dir / "uploads"]
    ours += [write(data_dir / ".restore.k1lled_x" / "database.sqlite3"), data_dir / ".restore.k1lled_x"]
    data_dir.chmod(0o755)
    before = {path: mode_of(path) for path in [data_dir, *theirs]}
    (said,) = close_files()
    assert said.startswith(f"The pool's files in {data_dir} stood open")
    assert {path: mode_of(path) for path in [data_dir, *theirs]} == before
    assert [path for path in ours if mode_of(path) & OTHERS] == []


def test_no_link_is_followed(data_dir, tmp_path):
    elsewhere = [write(tmp_path / "elsewhere" / "photo.jpg"), tmp_path / "elsewhere"]
    elsewhere[1].chmod(0o755)
    (data_dir / "sweeps").symlink_to(elsewhere[1], target_is_directory=True)
    (data_dir / "copies").mkdir()
    (data_dir / "copies" / "more").symlink_to(elsewhere[1], target_is_directory=True)
    (data_dir / "secret_key").symlink_to(elsewhere[0])
    assert close_files() == []
    assert [mode_of(path) for path in elsewhere] == [0o644, 0o755]


def test_a_data_folder_that_is_reached_by_a_link_is_closed_too(data_dir, tmp_path, settings):
    key = write(data_dir / "secret_key")
    data_dir.chmod(0o755)
    (tmp_path / "link").symlink_to(data_dir, target_is_directory=True)
    settings.DATA_DIR = tmp_path / "link"
    assert len(close_files()) == 1
    assert (mode_of(data_dir), mode_of(key)) == (0o700, 0o600)


@pytest.fixture
def database_elsewhere(tmp_path, monkeypatch):
    """The file of a pool on SQLite that DATABASE_URL puts beside what is somebody else's."""
    monkeypatch.setitem(connection.settings_dict, "NAME", tmp_path / "shared" / "pool.db")
    return write(tmp_path / "shared" / "pool.db")


@pytest.mark.django_db
@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="the files of PostgreSQL are its own matter")
def test_a_database_in_another_folder_is_closed_and_that_folder_left(database_elsewhere, tmp_path):
    log, folder = write(tmp_path / "shared" / "pool.db-wal"), tmp_path / "shared"
    other = write(folder / "other.db")
    folder.chmod(0o755)
    assert len(close_files()) == 1
    assert [mode_of(path) for path in (database_elsewhere, log, other, folder)] == [0o600, 0o600, 0o644, 0o755]


def test_what_cannot_be_closed_is_named(data_dir, monkeypatch):
    key = write(data_dir / "secret_key")

    # the account that runs the tests may own every file there is
    def refuse(*_, **__):
        raise PermissionError

    monkeypatch.setattr(os, "chmod", refuse)
    (said,) = close_files()
    assert said.startswith(f"{key} stands open to the other accounts of this computer, and that could not be changed.")


@pytest.mark.parametrize(("mode", "is_told"), [(0o777, True), (0o770, True), (0o1777, False), (0o755, False)])
def test_a_shared_folder_that_others_may_write_into_is_told_and_left(data_dir, mode, is_told):
    write(data_dir / "letter.txt")
    data_dir.chmod(mode)
    said = close_files()
    assert [f"may put files into {data_dir}" in line for line in said] == [True] * is_told
    assert mode_of(data_dir) == mode


@pytest.mark.django_db(transaction=True)
def test_what_a_command_writes_elsewhere_is_the_users_to_share_but_no_back_up(tmp_path, settings):
    settings.USERS_UMASK = 0o022
    call_command("export", tmp_path / "out", verbosity=0)
    call_command("backup", tmp_path / "pool.zip", verbosity=0)
    assert {mode_of(path) for path in Path(tmp_path, "out").iterdir()} == {0o644}
    assert mode_of(tmp_path / "pool.zip") == 0o600
