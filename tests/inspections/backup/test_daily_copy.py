"""One copy a day beside the database, and how old the newest is."""

import re
import threading
from datetime import date, datetime, timedelta

import pytest
from backups import newest_age_days, rewritten
from django.core.management import call_command
from django.db import connection, transaction
from django.utils import timezone
from factories import make_mat, make_usage_event
from page_words import words_in

from fleet.models import Mat, UsageEvent
from inspections.backup import daily
from inspections.backup.daily import make_daily_backup
from inspections.backup.existing_backups import daily_backup_of, daily_backups

pytestmark = pytest.mark.django_db(transaction=True)
AT = datetime.fromisoformat("2026-09-30T18:04:00+02:00")


@pytest.fixture
def look_now():
    """As an app that was just started, and will be started again."""
    daily._look_again["at"] = float("-inf")
    yield
    daily._look_again["at"] = float("-inf")


def wait_for_copy():
    for thread in threading.enumerate():
        if thread.name == "daily copy":
            thread.join(30)


def names_in(folder):
    return sorted(path.name for path in folder.iterdir())


def test_the_last_fourteen_are_kept(data_dir):
    (data_dir / "copies").mkdir()
    for day in range(13):
        daily_backup_of(AT.date() + timedelta(days=day)).touch()
    for day in range(13, 16):
        make_daily_backup(AT + timedelta(days=day))
    assert [path.stem for path in daily_backups()] == [f"daily-{date(2026, 10, 2) + timedelta(n)}" for n in range(14)]
    assert len(names_in(data_dir / "copies")) == 15  # and the claim of this hour


def test_a_daily_copy_restores_like_any_back_up(data_dir):
    make_mat("M-001")
    copy = make_daily_backup(AT)
    make_mat("M-002")
    call_command("restore", copy, replace=True, verbosity=0)
    assert [mat.number for mat in Mat.objects.all()] == ["M-001"]


def test_two_processes_at_once_make_one_copy(data_dir):
    made, ready = [], threading.Barrier(6)

    def make():
        ready.wait(10)
        try:
            made.append(make_daily_backup(AT))
        finally:
            connection.close()

    threads = [threading.Thread(target=make) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(map(str, made)) == sorted([str(data_dir / "copies" / "daily-2026-09-30.zip"), *["None"] * 5])
    assert make_daily_backup(AT + timedelta(hours=3)) is None


def test_a_copy_whose_process_died_is_made_in_the_next_hour(data_dir):
    (data_dir / "copies").mkdir()
    (data_dir / "copies" / ".claim-2026-09-30-18").touch()
    (data_dir / "copies" / ".daily-2026-09-29.zip.abcd").mkdir()
    assert make_daily_backup(AT) is None
    assert make_daily_backup(AT + timedelta(hours=1)) is not None
    assert names_in(data_dir / "copies") == [".claim-2026-09-30-19", "daily-2026-09-30.zip"]


def test_a_request_makes_the_copy_without_waiting_for_it(keeper_client, settings, data_dir, look_now):
    settings.DAILY_BACKUP = True
    assert keeper_client.get("/due/").status_code == 200
    wait_for_copy()
    assert len(daily_backups()) == 1
    daily_backups()[0].unlink()
    keeper_client.get("/due/")
    wait_for_copy()
    assert daily_backups() == []  # looked for once an hour


def test_switched_off_makes_none(keeper_client, settings, data_dir, look_now):
    settings.DAILY_BACKUP = False
    keeper_client.get("/due/")
    wait_for_copy()
    assert not (data_dir / "copies").exists()


def test_a_copy_that_cannot_be_made_breaks_no_page(keeper_client, settings, data_dir, look_now, caplog):
    settings.DAILY_BACKUP = True
    (data_dir / "copies").write_text("a file where the folder should be")
    assert keeper_client.get("/due/").status_code == 200
    wait_for_copy()
    assert "No copy was made today" in caplog.text


def test_the_age_is_that_of_the_newest_copy_or_back_up(data_dir, tmp_path):
    assert newest_age_days(AT.date()) is None
    make_daily_backup(AT - timedelta(days=5))
    make_daily_backup(AT - timedelta(days=2))
    assert newest_age_days(AT.date()) == 2
    call_command("backup", tmp_path / "stick.zip", verbosity=0)
    (data_dir / "copies" / "backed-up-on.txt").write_text("2026-09-29")
    assert newest_age_days(AT.date()) == 1
    (data_dir / "copies" / "backed-up-on.txt").write_text("yesterday")
    assert newest_age_days(AT.date()) == 2


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (None, "There is no copy yet."),
        (0, "The newest copy was made today."),
        (1, "The newest copy is 1 day old."),
        (9, "The newest copy is 9 days old."),
    ],
)
def test_the_first_page_tells_the_keeper_how_old_the_newest_copy_is(keeper_client, data_dir, today, days, said):
    make_mat("M-001")
    if days is not None:
        make_daily_backup(AT.replace(year=today.year, month=today.month, day=today.day) - timedelta(days=days))
    assert said in keeper_client.get("/").content.decode()


def copy_told(client):
    page = client.get("/").content.decode()
    return re.sub(r" (?=[.,])", "", words_in(page[page.index('<h2 id="copies"') :].split("</section>")[0]))


def log_an_event(mat, *, days_ago):
    went = make_usage_event(mat)
    UsageEvent.objects.update(recorded_at=timezone.now() - timedelta(days=days_ago))
    return went


@pytest.mark.parametrize(
    ("days_ago", "said"),
    [
        (None, "It holds 1 mat. No event is logged in it."),
        (0, "It holds 1 mat. The last event in it was logged today."),
        (1, "It holds 1 mat. The last event in it was logged yesterday."),
        (9, "It holds 1 mat. The last event in it was logged 9 days ago."),
    ],
)
def test_the_first_page_says_how_far_the_newest_copy_goes(keeper_client, data_dir, days_ago, said):
    mat = make_mat("M-001")
    if days_ago is not None:
        log_an_event(mat, days_ago=days_ago)
    make_daily_backup(timezone.localtime())
    make_mat("M-002")
    assert f"The newest copy was made today. {said}" in copy_told(keeper_client)


def test_an_event_is_logged_when_it_is_answered(keeper_client, keeper, data_dir):
    planned = make_usage_event(make_mat("M-001"), state="planned")
    UsageEvent.objects.update(recorded_at=timezone.now() - timedelta(days=30))
    planned.refresh_from_db()
    with transaction.atomic():
        planned.correct(by=keeper, state="went")
    make_daily_backup(timezone.localtime())
    assert "The last event in it was logged today." in copy_told(keeper_client)


def test_the_copy_of_an_empty_pool_is_called_that(keeper_client, data_dir):
    make_daily_backup(timezone.localtime())
    make_mat("M-001")
    assert "The newest copy was made today. It is a copy of an empty pool." in copy_told(keeper_client)


def test_of_a_copy_by_an_older_version_only_the_day_is_told(keeper_client, data_dir, tmp_path):
    def older(manifest):
        assert manifest.pop("held")["mats"] == 1
        manifest["format"] = 1

    make_mat("M-001")
    made = make_daily_backup(timezone.localtime())
    rewritten(made, tmp_path / "older.zip", change=older).replace(made)
    assert f"Back-up The newest copy was made today. It lies in {made.parent}" in copy_told(keeper_client)


def test_where_the_newest_copy_lies_is_told(keeper_client, data_dir, tmp_path):
    make_mat("M-001")
    make_daily_backup(timezone.localtime())
    same_disk = ", on the same disk as the pool." if connection.vendor == "sqlite" else "."
    assert f"It lies in {data_dir / 'copies'}{same_disk}" in copy_told(keeper_client)
    (tmp_path / "stick").mkdir()
    make_mat("M-002")
    call_command("backup", tmp_path / "stick" / "pool.zip", verbosity=0)
    (tmp_path / "stick").rename(tmp_path / "in a drawer")
    told = copy_told(keeper_client)
    assert f"It holds 2 mats. No event is logged in it. It lies in {tmp_path / 'stick'}" in told


def test_a_copy_is_read_once_not_at_every_look(keeper_client, data_dir, monkeypatch):
    make_mat("M-001")
    make_daily_backup(timezone.localtime())
    told = copy_told(keeper_client)
    monkeypatch.setattr("inspections.backup.newest.opened", None)
    assert copy_told(keeper_client) == told


def test_only_a_keeper_is_told_of_copies(bench_client, data_dir):
    make_mat("M-001")
    assert "copy" not in bench_client.get("/").content.decode()
