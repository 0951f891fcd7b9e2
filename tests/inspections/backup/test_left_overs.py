"""What killed runs leave, and uploads that nobody confirmed, go after a while; what runs and what is new stays."""

import os
from datetime import timedelta

import pytest
from backups import AT, files_in, write

from inspections.backup.daily import make_daily_backup
from inspections.backup.database_startup import open_pool
from inspections.backup.making import make_backup

pytestmark = pytest.mark.django_db(transaction=True)
UPLOAD, DRAFT = "ab" * 32, f"{'cd' * 32}.77.0a1b2c3d"


def left(folder, name, *, hours):
    """A file that somebody left in a folder of so many hours ago."""
    write(folder / name, b"left")
    then = (AT - timedelta(hours=hours)).timestamp()
    os.utime((folder / name).parent, (then, then))


def leave_everything(data_dir, hours):
    left(data_dir, ".restore.k1lled_x/database.sqlite3", hours=hours)
    left(data_dir, "copies/.daily-2026-09-29.zip.k1lled_x/database.sqlite3", hours=hours)
    left(data_dir, "copies/.before-update-2026-09-29-180400.zip.k1lled_x/database.pgdump", hours=hours)
    left(data_dir, f"uploads/{DRAFT}/mats.csv", hours=hours)


@pytest.mark.parametrize(
    "act", [lambda: open_pool(now=AT, notify=print), lambda: make_daily_backup(AT)], ids=["a start", "the daily copy"]
)
def test_what_was_killed_a_day_ago_and_forgotten_a_week_ago_is_cleared(data_dir, act):
    leave_everything(data_dir, hours=25)
    left(data_dir, f"uploads/{UPLOAD}/mats.csv", hours=7 * 24 + 1)
    act()
    assert list(data_dir.rglob(".restore*")) == list(data_dir.rglob(".*.zip.*")) == []
    assert list((data_dir / "uploads").iterdir()) == []


def test_what_may_still_run_or_wait_stays(data_dir):
    leave_everything(data_dir, hours=23)
    left(data_dir, f"uploads/{UPLOAD}/mats.csv", hours=7 * 24 - 1)
    before = files_in(data_dir)
    open_pool(now=AT, notify=print)
    assert files_in(data_dir) == before and len(list((data_dir / "copies").iterdir())) == 2


def test_what_is_somebody_elses_stays(data_dir, tmp_path):
    write(tmp_path / "elsewhere" / "mats.csv", b"own")
    (data_dir / "uploads").mkdir()
    (data_dir / "uploads" / UPLOAD).symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    left(data_dir, ".restore.notes/plan.txt", hours=1000)
    left(data_dir, "uploads/mine/mats.csv", hours=1000)
    left(data_dir, "copies/.own.zip.abcdefgh/photo.jpg", hours=1000)
    before = files_in(tmp_path)
    open_pool(now=AT, notify=print)
    assert files_in(tmp_path) == before and (data_dir / "copies/.own.zip.abcdefgh/photo.jpg").exists()


def test_a_back_up_clears_the_drafts_that_killed_ones_left_in_its_folder(tmp_path):
    left(tmp_path, ".pool-monday.zip.k1lled_x/database.sqlite3", hours=25)
    left(tmp_path, ".pool-today.zip.runn1ng_/database.sqlite3", hours=1)
    left(tmp_path, ".photos.zip.abcdefgh/photo.jpg", hours=25)
    make_backup(tmp_path / "pool.zip", now=AT)
    assert sorted(path.name for path in tmp_path.glob(".*")) == [".photos.zip.abcdefgh", ".pool-today.zip.runn1ng_"]
