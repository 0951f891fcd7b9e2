"""Photos in back-ups: all of them come back as they were, and what is wrong with one is said by its name."""

import io
import os
import zipfile
from datetime import timedelta
from hashlib import sha256

import pytest
from backups import AT, files_in, refusal_of, restore, rewritten, write
from django.core.management import call_command
from django.db import transaction
from factories import make_fault, make_mat, make_photo
from photos import photo_bytes

from fleet.models import FaultPhoto
from fleet.models.photos import photo_file_name
from fleet.services.photos import KEPT_DAYS, take_photo_off
from inspections.backup.daily import make_daily_backup
from inspections.backup.left_overs import clear_photos
from inspections.backup.making import make_backup

pytestmark = pytest.mark.django_db(transaction=True)
WET, TORN = photo_bytes((40, 30)), photo_bytes((40, 30), colour="blue")


@pytest.fixture
def fault(keeper):
    return make_fault(make_mat("6", fitted=True), "wet", None)


@pytest.fixture
def photos(fault):
    return [make_photo(fault, content) for content in (WET, TORN)]


def place_of(photo):
    return f"photos/{photo_file_name(photo.sha256)}"


def backed_up(tmp_path, name="pool.zip"):
    """(the file, what the command said)."""
    said = io.StringIO()
    call_command("backup", tmp_path / name, stdout=said)
    return tmp_path / name, said.getvalue()


def photos_in(data_dir):
    return {name: content for name, content in files_in(data_dir).items() if name.startswith("photos/")}


def test_photos_come_back_with_the_pool_and_later_ones_go_into_a_back_up(photos, fault, tmp_path, data_dir):
    before = photos_in(data_dir)
    assert sorted(before) == sorted(map(place_of, photos))
    backup, said = backed_up(tmp_path)
    assert "missing" not in said and "damaged" not in said
    write(data_dir / "photos" / "holiday.jpg", b"somebody else's")
    (data_dir / place_of(photos[0])).unlink()
    later = make_photo(fault, b"later")
    assert "It holds these files: 2 photos." in restore(backup, replace=True)
    assert photos_in(data_dir) == before | {"photos/holiday.jpg": b"somebody else's"}
    assert FaultPhoto.objects.count() == 2
    (saved,) = (data_dir / "copies").glob("before-restore-*.zip")
    with zipfile.ZipFile(saved) as archive:
        assert archive.read(f"files/{place_of(later)}") == b"later"
        assert [name for name in archive.namelist() if "holiday" in name] == []


def test_a_back_up_of_before_there_were_photos_restores_and_takes_them_away(fault, tmp_path, data_dir):
    made = backed_up(tmp_path)[0]

    def as_then(manifest):
        manifest["format"] = 2
        del manifest["leaving"]

    older = rewritten(made, tmp_path / "older.zip", change=as_then)
    make_photo(fault, WET)
    assert "These files are removed: 1 photo." in restore(older, replace=True)
    assert photos_in(data_dir) == {}


def test_a_daily_copy_leaves_photos_where_they_lie_and_says_which_are_gone(photos, fault, data_dir, tmp_path):
    copy = make_daily_backup(AT)
    with zipfile.ZipFile(copy) as archive:
        assert [name for name in archive.namelist() if "photos" in name] == []
    make_photo(fault, b"later")
    (data_dir / place_of(photos[1])).unlink()
    before = photos_in(data_dir)
    said = restore(copy, replace=True)
    assert "It was made without photos. Those that lie in the data folder stay there." in said
    assert f"Faults name these photos, and they are not here: {place_of(photos[1])}. A back-up that" in said
    assert photos_in(data_dir) == before


def test_a_photo_that_its_disk_damaged_or_lost_is_named_and_all_else_is_restored(photos, tmp_path, data_dir, keeper):
    broken, gone = photos
    (data_dir / place_of(broken)).write_bytes(b"rotten")
    (data_dir / place_of(gone)).unlink()
    backup, said = backed_up(tmp_path)
    assert f"These photos are missing, so they are not in it: {place_of(gone)}." in said
    assert f"These photos are damaged: {place_of(broken)}." in said
    said = restore(backup, replace=True)
    assert f"These photos in it are damaged and are left out: {place_of(broken)}." in said
    assert f"they are not here: {', '.join(sorted(map(place_of, photos)))}." in said
    assert photos_in(data_dir) == {} and FaultPhoto.objects.count() == 2


def test_a_back_up_that_was_damaged_itself_is_refused_by_the_name_of_the_photo(photos, tmp_path, data_dir):
    content = bytearray(backed_up(tmp_path)[0].read_bytes())
    # photos are stored as they are: each stands in the file byte by byte
    content[content.index(WET) + 200] ^= 1
    (tmp_path / "broken.zip").write_bytes(content)
    before = photos_in(data_dir)
    refusal = refusal_of(tmp_path / "broken.zip", replace=True)
    assert f"is cut off or damaged at {place_of(photos[0])}. Nothing was restored." in refusal
    assert photos_in(data_dir) == before


HASH = sha256(b"abcd").hexdigest()
STATED = {"bytes": 4, "sha256": HASH}


def refused_or_said(made, tmp_path, name, leaving=()):
    """What a restore says of a back-up that holds a file of that name, or that it is refused."""

    def change(manifest):
        manifest["members"][name] = STATED
        manifest["leaving"] = list(leaving)

    spoilt = rewritten(made, tmp_path / f"spoilt-{HASH[:4]}.zip", change=change, members={name: b"abcd"})
    try:
        return refusal_of(spoilt, replace=True)
    finally:
        spoilt.unlink()


def test_names_that_lead_elsewhere_are_refused(fault, tmp_path, data_dir):
    made, before = backed_up(tmp_path)[0], files_in(data_dir)
    for name in ("files/photos/../secret_key", f"files/photos/{HASH[:2]}/../../x.jpg", "files/photos//x", "photos/x"):
        assert "which leads to a place where no file of a pool belongs" in refused_or_said(made, tmp_path, name)
    kept = f"files/photos/{HASH[:2]}/{HASH}.jpg"
    assert "holds other files than it says" in refused_or_said(made, tmp_path, kept, leaving=["photos"])
    for leaving in (["static"], ["../x"], "photos", [3], [["photos"]]):
        assert "is cut off or damaged" in refused_or_said(made, tmp_path, kept, leaving=leaving)
    assert files_in(data_dir) == before


def test_what_is_not_named_as_a_photo_is_left_out(fault, tmp_path, data_dir):
    made = backed_up(tmp_path)[0]
    names = ["files/photos/x.html", f"files/photos/zz/{HASH}.jpg", f"files/photos/{HASH}.jpg"]

    def change(manifest):
        manifest["members"].update(dict.fromkeys(names, STATED))

    spoilt = rewritten(made, tmp_path / "spoilt.zip", change=change, members=dict.fromkeys(names, b"abcd"))
    assert "are no part of a pool and are left out: photos/x.html" in restore(spoilt, replace=True)
    assert photos_in(data_dir) == {}


def aged(data_dir, photo, days):
    then = (AT - timedelta(days=days)).timestamp()
    os.utime(data_dir / place_of(photo), (then, then))


def test_the_file_of_a_photo_that_was_taken_off_goes_when_no_trail_of_late_tells_of_it(fault, data_dir, keeper):
    kept, old, late = (make_photo(fault, content) for content in (WET, TORN, b"late"))
    for photo in (kept, old, late):
        aged(data_dir, photo, KEPT_DAYS + 1)
    for photo in (old, late):
        with transaction.atomic():
            take_photo_off(photo, by=keeper, reason="wrong mat")
    FaultPhoto.history.filter(sha256=old.sha256).update(history_date=AT - timedelta(days=KEPT_DAYS + 1))
    FaultPhoto.history.filter(sha256=late.sha256).update(history_date=AT - timedelta(days=KEPT_DAYS - 1))
    clear_photos(AT)
    assert sorted(photos_in(data_dir)) == sorted([place_of(kept), place_of(late)])


def test_a_file_that_nothing_ever_told_of_goes_by_its_age(photos, fault, data_dir):
    left = [make_photo(fault, content) for content in (b"old", b"new")]
    for photo, days in zip(left, (KEPT_DAYS + 1, KEPT_DAYS - 1), strict=True):
        aged(data_dir, photo, days)
        photo.delete()
    FaultPhoto.history.all().delete()
    clear_photos(AT)
    assert sorted(photos_in(data_dir)) == sorted(map(place_of, [*photos, left[1]]))


def test_a_database_that_knows_of_no_photo_clears_none(photos, data_dir):
    """It may stand in place of one that was lost, and the photos are all that is left."""
    for photo in photos:
        aged(data_dir, photo, 1000)
    FaultPhoto.objects.all().delete()
    FaultPhoto.history.all().delete()
    make_backup(data_dir.parent / "x.zip", now=AT)
    clear_photos(AT)
    assert len(photos_in(data_dir)) == 2
