"""One copy a day in a folder elsewhere: made whole, or said on the first page why not."""

import shutil
import threading
from datetime import datetime, timedelta

import pytest
from backups import AT
from django.core.exceptions import ValidationError
from factories import make_mat
from page_words import words_in

from fleet.models import Mat
from inspections.backup import daily, elsewhere
from inspections.backup.elsewhere import KEPT, MARK, copy_elsewhere, forget_folder, name_folder, try_again
from inspections.backup.making import make_backup
from inspections.backup.newest import newest_backup
from inspections.backup.restoring import restore_backup

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def stick(data_dir, tmp_path):
    """A folder elsewhere that is named, beside a pool with a mat."""
    make_mat("M-001")
    (tmp_path / "stick").mkdir()
    name_folder(str(tmp_path / "stick"))
    return tmp_path / "stick"


def copies_on(stick):
    return sorted(path.name.partition("-20")[2] for path in stick.glob("halfpower-*.zip"))


def told(client, place="/"):
    return words_in(client.get(place).content.decode().partition("<main")[2].partition("</main")[0])


def state():
    return elsewhere.elsewhere()


def test_the_copy_of_a_day_is_a_whole_back_up(stick, data_dir):
    path = copy_elsewhere(AT)
    assert path.parent == stick and state().made_on == AT.date() and not state().has_failed
    make_mat("M-002")
    restore_backup(path, replace=True, now=AT, notify=print)
    assert [mat.number for mat in Mat.objects.all()] == ["M-001"]
    # the folder is of this computer: no restore changes it
    assert state().folder == str(stick)
    assert newest_backup(AT.date()).folder == stick


def test_one_is_made_each_day_and_the_last_seven_are_kept_of_this_pool_alone(stick, data_dir):
    (stick / "halfpower-00000000-2026-01-01.zip").write_bytes(b"of another pool")
    (stick / "holiday.zip").write_bytes(b"somebody's own")
    for day in range(9):
        assert copy_elsewhere(AT + timedelta(days=day)) is not None
        assert copy_elsewhere(AT + timedelta(days=day, hours=2)) is None
    assert copies_on(stick) == ["26-01-01.zip", *(f"26-10-0{day}.zip" for day in range(2, 9))]
    assert KEPT == 7 and (stick / "holiday.zip").exists()


def test_a_clock_that_is_behind_deletes_no_copy(stick, data_dir):
    for day in range(KEPT):
        copy_elsewhere(AT + timedelta(days=day))
    copy_elsewhere(AT - timedelta(days=400))
    assert len(copies_on(stick)) == KEPT + 1


def test_without_the_stick_nothing_is_written_in_its_place_and_the_first_page_says_so(
    stick, data_dir, keeper_client, bench_client
):
    now = datetime.now().astimezone()
    copy_elsewhere(now - timedelta(days=1))
    stick.rename(stick.parent / "in a drawer")
    stick.mkdir()
    assert copy_elsewhere(now) is None
    assert list(stick.iterdir()) == []
    said = told(keeper_client)
    assert f"Look at the copies. No copy could be put into {stick}" in said
    assert f"the file {MARK} is missing. Connect its disk, or name the folder again. The last one there is of" in said
    assert "Look at the copies" not in told(bench_client)
    stick.rmdir()
    copy_elsewhere(now + timedelta(hours=1))
    assert f"There is no folder {stick} on this computer." in told(keeper_client)
    (stick.parent / "in a drawer").rename(stick)
    assert copy_elsewhere(now + timedelta(hours=2)) is not None
    assert "Look at the copies" not in told(keeper_client)


def test_after_a_failure_it_is_tried_again_in_the_next_hour_or_when_somebody_asks(stick, data_dir):
    (stick / MARK).unlink()
    copy_elsewhere(AT)
    (stick / MARK).touch()
    assert copy_elsewhere(AT + timedelta(minutes=20)) is None
    try_again()
    assert copy_elsewhere(AT + timedelta(minutes=20)) is not None


def test_a_copy_that_never_ends_is_told_of(stick, data_dir, keeper_client, monkeypatch):
    """The disk does not answer, or the app was stopped: nothing is noted but that it began."""
    now = datetime.now().astimezone()

    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(elsewhere, "_copy", stop)
    with pytest.raises(KeyboardInterrupt):
        copy_elsewhere(now - timedelta(hours=1))
    assert "Look at the copies" not in told(keeper_client)
    with pytest.raises(KeyboardInterrupt):
        copy_elsewhere(now - timedelta(hours=3))
    assert "never ended. Is its disk connected, and does it answer?" in told(keeper_client)


def test_what_a_cut_short_copy_left_is_replaced_and_what_is_no_back_up_is_not(stick, data_dir):
    path = copy_elsewhere(AT)
    path.write_bytes(b"")
    try_again()
    assert copy_elsewhere(AT + timedelta(days=400)) is not None
    forget_folder()
    name_folder(str(stick))
    assert copy_elsewhere(AT) == path and path.stat().st_size > 1000
    path.write_bytes(b"somebody's own")
    forget_folder()
    name_folder(str(stick))
    assert copy_elsewhere(AT) is None
    assert "exists already" in state().why and path.read_bytes() == b"somebody's own"


def test_a_folder_that_cannot_take_copies_is_not_named(data_dir, tmp_path, keeper_client):
    (tmp_path / "file").touch()
    for folder, says in (
        ("stick", "Write the whole path"),
        ("", "Write the path of a folder."),
        (str(tmp_path / "none"), "There is no folder"),
        (str(tmp_path / "file"), "There is no folder"),
        (str(data_dir), "lies in the data folder"),
        (str(data_dir / "copies"), "There is no folder"),
        ("/" + "x" * 900, "There is no folder"),
    ):
        answer = keeper_client.post("/copies/elsewhere/", {"folder": folder})
        assert answer.status_code == 422 and says in words_in(answer.content.decode()), folder
        assert state() is None
    with pytest.raises(ValidationError, match="Nothing can be written into /proc"):
        name_folder("/proc")


def test_a_keeper_names_the_folder_and_the_first_copy_is_made_at_once(
    data_dir, tmp_path, keeper_client, settings, monkeypatch
):
    settings.DAILY_BACKUP = True
    monkeypatch.setitem(daily._look_again, "at", float("inf"))
    make_mat("M-001")
    (tmp_path / "share").mkdir()
    answer = keeper_client.post("/copies/elsewhere/", {"folder": f" {tmp_path / 'share'} "}, follow=True)
    assert "The copy is being made now." in words_in(answer.content.decode())
    wait_for_copies()
    assert len(copies_on(tmp_path / "share")) == 1
    assert f"The last copy went into {tmp_path / 'share'}" in told(keeper_client, "/copies/")
    keeper_client.post("/copies/elsewhere/stop/")
    assert state() is None and len(copies_on(tmp_path / "share")) == 1
    assert "Name a folder on a stick or a share." in told(keeper_client, "/copies/")


def wait_for_copies():
    while threads := [thread for thread in threading.enumerate() if thread.name == "daily copy"]:
        for thread in threads:
            thread.join(60)


def test_where_daily_copies_are_switched_off_the_page_says_that_none_is_made(stick, keeper_client, settings):
    settings.DAILY_BACKUP = False
    answer = keeper_client.post("/copies/elsewhere/now/", follow=True)
    assert "Daily copies are switched off on this computer" in words_in(answer.content.decode())


@pytest.mark.parametrize("text", ["", "{}", '{"folder": 3}', "null", '{"folder": "/x", "tried_at": "now"}', "\xff"])
def test_whatever_is_written_into_its_file_breaks_no_page(stick, data_dir, keeper_client, text):
    (data_dir / "copies" / "elsewhere.json").write_bytes(text.encode("latin-1"))
    assert state() is None
    assert keeper_client.get("/").status_code == keeper_client.get("/copies/").status_code == 200


def test_a_disk_that_is_full_is_said(stick, data_dir, monkeypatch):
    def full(path, **_):
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr(elsewhere, "make_backup", full)
    assert copy_elsewhere(AT) is None
    assert state().has_failed and "full" in state().why


def test_a_back_up_that_somebody_made_there_is_no_daily_copy(stick, data_dir):
    make_backup(stick / "pool.zip", now=AT)
    copy_elsewhere(AT)
    assert len(copies_on(stick)) == 1
    shutil.rmtree(stick)
