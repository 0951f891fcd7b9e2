"""A clock that was wrong, or is: copies, assessments, forms, and what is said of it."""

import re
import zipfile
from datetime import date, datetime, timedelta

import pytest
from backups import newest_age_days
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.utils import timezone
from factories import fit, make_event, make_mat, make_reading, make_segment, make_usage_event
from page_forms import form_in
from page_words import words_in

from fleet.figures import short_day
from fleet.models import Fitting, Mat
from inspections.assessment.services import assess_pool, ensure_assessed, reassess
from inspections.backup.clock import RECENT, clock_warning
from inspections.backup.daily import make_daily_backup
from inspections.backup.existing_backups import backups_folder, daily_backup_of, daily_backups
from inspections.backup.newest import NOTE, newest_backup_ahead
from inspections.bench.services import void_reading
from inspections.models import Assessment, Measurement, PoolState

pytestmark = pytest.mark.django_db(transaction=True)
AT = datetime.fromisoformat("2026-09-30T18:04:00+02:00")
AHEAD = AT + timedelta(days=5 * 365)
BEHIND = AT - timedelta(days=5 * 365)
WRONG = [
    datetime.fromisoformat(f"{day}T12:00:00+00:00") for day in ("1970-01-01", "2021-03-04", "2038-01-20", "2100-02-28")
]


def copies_of(first, days):
    """Only the last is made; of those of the days before it nothing counts but their names."""
    backups_folder().mkdir(exist_ok=True)
    for number in range(days - 1):
        daily_backup_of(first.date() + timedelta(days=number)).touch()
    make_daily_backup(first + timedelta(days=days - 1))


def days_kept():
    return [date.fromisoformat(path.stem.removeprefix("daily-")) for path in daily_backups()]


def first_page(client, monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now)
    return words_in(client.get("/").content.decode())


# --- copies


def test_copies_dated_ahead_take_no_place_of_those_made_afterwards(data_dir):
    copies_of(AHEAD, 14)
    copies_of(AT, 3)
    assert days_kept() == [AT.date() + timedelta(days=n) for n in range(3)] + [
        AHEAD.date() + timedelta(days=n) for n in range(14)
    ]
    copies_of(AT, 20)
    assert days_kept()[:14] == [AT.date() + timedelta(days=n) for n in range(6, 20)]


def test_a_clock_that_is_behind_deletes_no_good_copy(data_dir):
    copies_of(AT, 14)
    copies_of(BEHIND, 20)
    assert days_kept()[-14:] == [AT.date() + timedelta(days=n) for n in range(14)]
    assert days_kept()[:-14] == [BEHIND.date() + timedelta(days=n) for n in range(6, 20)]


def test_the_age_is_never_that_of_a_copy_dated_ahead(data_dir):
    make_daily_backup(AHEAD)
    assert (newest_age_days(AT.date()), newest_backup_ahead(AT.date())) == (None, AHEAD.date())
    make_daily_backup(AT - timedelta(days=9))
    assert (newest_age_days(AT.date()), newest_backup_ahead(AT.date())) == (9, AHEAD.date())
    assert newest_backup_ahead(AHEAD.date()) is None
    (data_dir / "copies" / NOTE).write_text((AHEAD + timedelta(days=1)).date().isoformat())
    assert newest_backup_ahead(AHEAD.date()) == AHEAD.date() + timedelta(days=1)


def test_a_note_of_any_bytes_is_no_day(data_dir):
    make_daily_backup(AT)
    (data_dir / "copies" / NOTE).write_bytes(b"2026-09-\xff")
    assert newest_age_days(AT.date()) == 0


def test_the_first_page_says_that_a_copy_is_dated_ahead(keeper_client, data_dir, monkeypatch):
    make_mat("M-001")
    make_daily_backup(AHEAD)
    page = first_page(keeper_client, monkeypatch, AT)
    assert "There is no copy from today or before." in page
    assert "A copy is dated 2031-09-29, which is after today." in page
    assert "made today" not in page


@pytest.mark.parametrize("now", WRONG, ids=lambda now: f"{now:%Y}")
def test_a_copy_is_made_and_restored_whatever_the_clock_says(data_dir, tmp_path, monkeypatch, now):
    make_mat("M-001")
    monkeypatch.setattr(timezone, "now", lambda: now)
    monkeypatch.setattr("time.localtime", lambda *args: now.timetuple())
    copy = make_daily_backup(now)
    call_command("backup", tmp_path / "stick.zip", verbosity=0)
    with zipfile.ZipFile(copy) as archive:
        assert archive.testzip() is None
    make_mat("M-002")
    call_command("restore", copy, replace=True, verbosity=0)
    assert [mat.number for mat in Mat.objects.all()] == ["M-001"]


# --- what is due


@pytest.fixture
def two_mats():
    return [make_mat(number, fitted=True) for number in ("M-1", "M-2")]


def test_what_was_assessed_for_a_day_that_has_not_come_is_assessed_again(two_mats, today):
    """One cable was changed while the clock was ahead; all others stayed assessed for today."""
    ahead = today + timedelta(days=5 * 365)
    assess_pool(today)
    reassess([Fitting.objects.first().segment_id], on=ahead)
    ensure_assessed(today)
    assert set(Assessment.objects.values_list("assessed_on", flat=True)) == {today}


def test_the_pool_assessed_while_the_clock_was_ahead_is_assessed_again_by_the_next_page(keeper_client, two_mats, today):
    assess_pool(today + timedelta(days=400))
    assert keeper_client.get("/due/").status_code == 200
    assert set(Assessment.objects.values_list("assessed_on", flat=True)) == {today}


def test_the_due_command_answers_for_today_although_the_clock_was_ahead(two_mats, today, capsys):
    assess_pool(today + timedelta(days=400))
    call_command("due")
    assert f"As of {today}" in capsys.readouterr().out
    assert PoolState.objects.get().assessed_on == today


def test_a_change_of_today_leaves_the_other_assessments_of_today_alone(two_mats, today):
    assess_pool(today)
    Assessment.objects.update(position=99)
    reassess([Fitting.objects.first().segment_id], on=today)
    ensure_assessed(today)
    assert Assessment.objects.exclude(position=99).count() == 1


# --- what is said of it


def test_entries_written_after_now_are_named_with_what_the_clock_says(two_mats):
    now = timezone.localtime()
    assert clock_warning(now) == ""
    assert clock_warning(now - timedelta(hours=20)) == ""
    said = clock_warning(now - timedelta(days=365))
    assert f"clock says {short_day(now - timedelta(days=365))}. The newest entry was made on {short_day(now)}." in said
    assert "set it before you enter anything" in said


def test_a_copy_of_a_later_day_says_so_too(data_dir):
    make_daily_backup(AT)
    assert "made on 30 Sep 2026" in clock_warning(BEHIND)
    assert clock_warning(AT) == ""


def test_entries_of_a_clock_that_was_ahead_are_not_spoken_of_for_ever(today):
    now = timezone.localtime()
    type(event := make_event()).objects.filter(pk=event.pk).update(recorded_at=now + timedelta(days=900))
    assert clock_warning(now) != ""
    for _ in range(RECENT):
        make_event()
    assert clock_warning(now) == ""


def test_whoever_enters_something_is_told_on_the_first_page(
    keeper_client, bench_client, visitor_client, two_mats, monkeypatch
):
    pages = [first_page(client, monkeypatch, AT) for client in (keeper_client, bench_client, visitor_client)]
    assert ["Look at the clock." in page for page in pages] == [True, True, False]


# --- forms


@pytest.mark.parametrize("now", WRONG, ids=lambda now: f"{now:%Y}")
def test_forms_offer_the_day_that_the_clock_says(client, keeper, two_mats, monkeypatch, now):
    reading = make_reading(fit(make_segment(), make_mat("M-3"), 1).segment)
    monkeypatch.setattr(timezone, "now", lambda: now)
    client.force_login(keeper)
    dated = ["/mats/M-1/positions/1/fit/", "/mats/M-1/withdraw/", "/mats/M-1/faults/report/", "/events/add/"]
    for place in [*dated, "/events/log/"]:
        assert f'value="{now.date()}"' in client.get(place).content.decode(), place
    for place in [
        f"/readings/{reading.pk}/void/",
        "/mats/M-1/",
        "/bench/M-1/",
        "/start/",
        "/policy/",
        "/due/",
        "/pool/",
        "/",
    ]:
        assert client.get(place).status_code == 200, place


def acts_of(fitting, reading, event):
    """(address, what is sent beside the day that the page offers) of acts on what lies ahead of a clock behind."""
    position = f"/mats/{fitting.mat}/positions/{fitting.position}"
    yield f"{position}/fit/", {"segment": "C-SPARE"}
    yield f"/cables/{fitting.segment}/fittings/{fitting.pk}/correct/", {"fitted_basis": "about"}
    yield f"/mats/{fitting.mat}/faults/report/", {"place": "cable", "position": fitting.position}
    yield f"/readings/{reading.pk}/void/", {"reason": "wrong cable"}
    yield f"/bench/{fitting.mat}/", {f"found-{fitting.segment_id}": "1.2"}
    yield f"/events/{event.code}/answer/", {"state": "went"}


@pytest.mark.parametrize("now", WRONG[:2], ids=lambda now: f"{now:%Y}")
def test_what_a_clock_behind_does_not_allow_is_refused_in_a_sentence_and_changes_nothing(
    client, keeper, two_mats, today, monkeypatch, now
):
    fitting, event = Fitting.objects.first(), make_event(today)
    Fitting.objects.filter(pk=fitting.pk).update(fitted_on=today)
    make_usage_event(fitting.mat, event, state="planned")
    make_segment(0.6, "C-SPARE")
    monkeypatch.setattr(timezone, "now", lambda: now)
    client.force_login(keeper)
    for place, typed in acts_of(fitting, make_reading(fitting.segment, measured_on=today), event):
        answer = client.post(place, form_in(client.get(place)) | typed)
        page = answer.content.decode()
        assert (answer.status_code, "is violated" in page) == (422, False), place
        assert ERROR.search(page), place
    late = client.get(f"/mats/{fitting.mat}/positions/1/take-out/", follow=True)
    assert f"is empty on {short_day(now)}" in words_in(late.content.decode())


ERROR = re.compile(r'class="(form-errors|field-error)"')


def test_a_reading_of_a_day_that_lies_ahead_is_not_made_void_before_it(today):
    reading = make_reading(make_segment(), measured_on=today)
    with pytest.raises(ValidationError, match=f"day of this reading {short_day(today)} is after today"):
        void_reading(reading, by=None, on=today - timedelta(days=900), reason="wrong cable")
    assert Measurement.objects.get().voided_on is None
