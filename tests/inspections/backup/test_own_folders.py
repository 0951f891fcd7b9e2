"""Back-up and restore touch the pool's own files and nothing else of the data folder."""

import os
import shutil
import threading
import zipfile
from datetime import timedelta

import pytest
from backups import AT, empty_the_pool, files_in, refusal_of, restore, rewritten, write
from django.db import connection
from factories import make_mat

from fleet.models import Load, Mat
from inspections.assessment.services import reassess
from inspections.backup.making import make_backup
from inspections.models import PoolState, PoolTrend

pytestmark = pytest.mark.django_db(transaction=True)
SWEEP = "files/sweeps/2026/M-001.s2p"
ABCD = {"bytes": 4, "sha256": "88d4266fd4e6338d13b845fcf289579d209c897823b9217da3e161936f031589"}


def holding(*names):
    """A change of a manifest to one that also names these, which hold b"abcd"."""
    return lambda manifest: manifest["members"].update(dict.fromkeys(names, ABCD))


def also_holding(backup, target, *names):
    return rewritten(backup, target, change=holding(*names), members=dict.fromkeys(names, b"abcd"))


# What is somebody else's


def test_over_an_empty_pool_other_folders_and_what_links_lead_to_stay(backup, data_dir, tmp_path):
    empty_the_pool(data_dir)
    write(data_dir / "my papers" / "thesis.txt", b"years of work")
    write(data_dir / "exports-2025" / "mats.csv", b"mat\r\n")
    write(tmp_path / "elsewhere" / "photo.jpg", b"a summer")
    (data_dir / "pictures").symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    before = files_in(tmp_path)
    restore(backup)
    assert files_in(tmp_path) == before | {"data/sweeps/2026/M-001.s2p": bytes(range(256)) * 9}
    assert Mat.objects.count() == 1


def test_a_back_up_is_restored_from_any_other_folder_of_the_data_folder(backup, data_dir):
    empty_the_pool(data_dir)
    for folder in ("backups", "copies", "uploads"):
        kept = data_dir / folder / "2026-11-26.zip"
        kept.parent.mkdir(exist_ok=True)
        shutil.copy(backup, kept)
        restore(kept, replace=True)
        assert kept.read_bytes() == backup.read_bytes(), folder


def test_a_back_up_among_the_pools_own_files_is_to_be_moved_first(backup, data_dir, tmp_path):
    kept, draft = data_dir / "sweeps" / "2026" / "pool.zip", data_dir / ".restore.k1lled_x" / "pool.zip"
    draft.parent.mkdir()
    shutil.copy(backup, kept)
    shutil.copy(backup, draft)
    (tmp_path / "link.zip").symlink_to(kept)
    for path in (kept, draft, tmp_path / "link.zip"):
        assert "lies among the pool's own files. Move it elsewhere" in refusal_of(path, replace=True)
    assert kept.read_bytes() == draft.read_bytes() == backup.read_bytes()


def test_other_folders_are_in_no_back_up(one_of_everything, data_dir, tmp_path):
    write(data_dir / "my papers" / "thesis.txt", b"years of work")
    write(data_dir / "Sweeps-old" / "a.s2p", b"own")
    make_backup(tmp_path / "pool.zip", now=AT)
    with zipfile.ZipFile(tmp_path / "pool.zip") as archive:
        assert [name for name in archive.namelist() if name.startswith("files/")] == [SWEEP]


def test_other_folders_in_an_older_back_up_are_left_out_and_named(backup, data_dir, tmp_path):
    older = also_holding(backup, tmp_path / "older.zip", "files/my papers/thesis.txt", "files/uploads/x/mats.csv")
    before = files_in(data_dir)
    said = restore(older, replace=True)
    left_out = "my papers/thesis.txt, uploads/x/mats.csv"
    assert f"These files in it are no part of a pool and are left out: {left_out}.\n" in said
    assert files_in(data_dir) == before


# Links


@pytest.mark.parametrize("place", ["sweeps", "sweeps/2026"])
def test_nothing_is_written_through_a_link(backup, data_dir, tmp_path, place):
    shutil.rmtree(data_dir / "sweeps")
    write(tmp_path / "elsewhere" / "M-001.s2p", b"not the pool's")
    link = data_dir / place
    link.parent.mkdir(exist_ok=True)
    link.symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    before = files_in(tmp_path)
    refusal = refusal_of(backup, replace=True)
    assert refusal.startswith(f"{link} is a link, and the pool's files are not written through links.")
    assert files_in(tmp_path) == before


def test_no_back_up_follows_a_link_and_the_command_says_so(one_of_everything, data_dir, tmp_path, capsys):
    from django.core.management import call_command

    write(tmp_path / "elsewhere" / "photo.jpg", b"a summer")
    (data_dir / "sweeps" / "more").symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    (data_dir / "sweeps" / "one.s2p").symlink_to(tmp_path / "elsewhere" / "photo.jpg")
    call_command("backup", tmp_path / "pool.zip")
    said = capsys.readouterr().out
    for name in ("more", "one.s2p"):
        assert f"{data_dir / 'sweeps' / name} is a link: what it leads to is in no back-up." in said
    with zipfile.ZipFile(tmp_path / "pool.zip") as archive:
        assert [name for name in archive.namelist() if name.startswith("files/")] == [SWEEP]
    restore(tmp_path / "pool.zip", replace=True)
    assert (tmp_path / "elsewhere" / "photo.jpg").read_bytes() == b"a summer"
    assert (data_dir / "sweeps" / "one.s2p").is_symlink()


def test_what_is_in_the_way_of_a_file_is_not_written_over(backup, data_dir, tmp_path):
    os.mkfifo(data_dir / "sweeps" / "pipe")
    spoilt = also_holding(backup, tmp_path / "pipe.zip", "files/sweeps/pipe")
    assert f"{data_dir / 'sweeps' / 'pipe'} is in the way of a file" in refusal_of(spoilt, replace=True)


# What goes is named, asked about and kept


def test_files_that_would_go_are_asked_about_also_where_there_are_no_records(backup, data_dir):
    empty_the_pool(data_dir)
    write(data_dir / "sweeps" / "2027" / "later.s2p", b"later")
    write(data_dir / "sweeps" / "2026" / "M-001.s2p", b"changed")
    before = files_in(data_dir)
    assert refusal_of(backup) == (
        "This pool has files that the back-up does not hold: sweeps/2026/M-001.s2p, sweeps/2027/later.s2p. Nothing was "
        "restored. With --replace they are removed, after a back-up of them was saved."
    )
    assert files_in(data_dir) == before
    said = restore(backup, replace=True)
    assert "These files are removed: sweeps/2026/M-001.s2p, sweeps/2027/later.s2p.\n" in said
    (kept,) = (data_dir / "copies").iterdir()
    with zipfile.ZipFile(kept) as archive:
        assert archive.read("files/sweeps/2027/later.s2p") == b"later"
        assert archive.read(SWEEP) == b"changed"


def test_records_of_any_kind_are_asked_about(backup, data_dir):
    empty_the_pool(data_dir)
    Load.objects.create(files=[])
    assert refusal_of(backup).startswith("This pool has records: 1 other record. Nothing was restored.")
    assert Load.objects.count() == 1


def test_what_is_computed_anew_is_no_record(backup, data_dir, on):
    empty_the_pool(data_dir)
    reassess(None, on=on)
    assert PoolState.objects.exists() or PoolTrend.objects.exists()
    restore(backup)
    assert Mat.objects.count() == 1


def test_of_many_files_some_are_named(backup, data_dir):
    for number in range(1234):
        write(data_dir / "sweeps" / f"{number:04}.s2p", b"x")
    assert "sweeps/0009.s2p and 1,224 more. Nothing was restored." in refusal_of(backup)


def test_restores_at_once_take_turns_and_each_keeps_what_it_replaced(backup, data_dir):
    make_mat("M-777")
    done = []

    def put_back():
        try:
            done.append(restore(backup, replace=True))
        finally:
            connection.close()

    threads = [threading.Thread(target=put_back) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(done) == 3
    copies = list((data_dir / "copies").glob("before-restore-*.zip"))
    assert len(copies) == 3
    assert sum("2 mats" in said.split("removed:")[1] for said in done) == 1
    assert Mat.objects.count() == 1


def test_two_back_ups_to_one_name_make_one_and_refuse_the_other(one_of_everything, tmp_path):
    from django.core.exceptions import ValidationError

    told, ready = [], threading.Barrier(2)

    def back_up(at):
        ready.wait(10)
        try:
            make_backup(tmp_path / "pool.zip", now=at)
        except ValidationError as error:
            told.append(error.messages[0])
        finally:
            connection.close()

    threads = [threading.Thread(target=back_up, args=[AT + timedelta(days=n)]) for n in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [said.partition(" exists already")[0] for said in told] == [str(tmp_path / "pool.zip")]
    assert [path.name for path in tmp_path.iterdir() if path.name.endswith(".zip")] == ["pool.zip"]
