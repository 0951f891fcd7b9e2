"""series.csv: events that come back keep their rule, out and in again."""

from datetime import date, timedelta

import pytest
from factories import make_event, make_plain_mat, make_usage_event
from pool_files import FULL, pool_files

from fleet.models import Event, EventSeries
from fleet.services.series import repeat_event
from inspections.deleting.load_services import take_back
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.files.saving import export_folder

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
SERIES = "series,name,starts_on,until,every_weeks,length_days\n"
EVENTS = "event,name,starts_on,ends_on,series,changed_alone\n"


def load(**changes):
    return load_pool_files(pool_files(**changes), by=None, on=ON)


def found(**changes):
    errors = check_pool_files(pool_files(**changes), on=ON).errors.in_order()
    return [(error.file, error.line, error.column, error.expected) for error in errors]


def exported(folder):
    folder.mkdir(exist_ok=True)
    export_folder(folder)
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_series_that_people_made_goes_out_and_comes_in_the_same(keeper, tmp_path):
    event = make_event(ON + timedelta(days=3), code="E-9", name="Fen run")
    make_usage_event(make_plain_mat(), event, state="planned")
    series = repeat_event(event, every_weeks=2, until=ON + timedelta(days=40), by=keeper, on=ON)
    assert series.code == "S-2026-01"
    files = exported(tmp_path / "out")
    assert files["series.csv"].decode().splitlines()[1:] == ["S-2026-01,Fen run,2026-10-03,2026-11-09,2,1"]
    rows = [line.split(",")[-2:] for line in files["events.csv"].decode().splitlines()[1:]]
    assert rows == [["S-2026-01", "no"]] * 3


def test_the_full_pool_keeps_its_series(tmp_path):
    load(**FULL)
    assert set(EventSeries.objects.values_list("code", "name", "every_weeks", "length_days")) == {
        ("S-2025-01", "=Evening run", 2, 1),
        ("S-2025-02", "Evening run", 1, 2),
    }
    weeks = Event.objects.exclude(series=None).order_by("code").values_list("code", "series__code", "changed_alone")
    assert list(weeks) == [("E-4", "S-2025-01", False), ("E-5", "S-2025-01", True), ("E-6", "S-2025-02", False)]
    files, load_of_nothing_new = load_pool_files(exported(tmp_path / "out"), by=None, on=ON)
    assert load_of_nothing_new is None and files.table("series.csv").existing.all()


def test_files_of_before_there_was_one_are_loaded_as_ever():
    load()
    assert not EventSeries.objects.exists() and Event.objects.filter(series=None).count() == 3


@pytest.mark.parametrize(
    ("series", "place"),
    [
        ("S-1,Evening run,2025-06-04,2025-06-01,1,1", (2, "until")),
        ("S-1,Evening run,2025-06-04,2025-07-01,0,1", (2, "every_weeks")),
        ("S-1,Evening run,2025-06-04,2025-07-01,1,8", (2, "every_weeks")),
        ("S-1,Evening run,2025-06-04,,1,1", (2, "until")),
        ("S-1,,2025-06-04,2025-07-01,1,1", (2, "name")),
    ],
)
def test_a_rule_that_cannot_be_is_refused(series, place):
    events = f"{EVENTS}E-1,Evening run,2025-06-04,2025-06-04,S-1,\n"
    wrong = found(series=f"{SERIES}{series}\n", events=events, usage=None)
    assert [error[:3] for error in wrong if error[0] == "series.csv"] == [("series.csv", *place)]


def test_a_series_without_events_is_refused():
    wrong = found(series=f"{SERIES}S-1,Evening run,2025-06-04,2025-07-01,1,1\n")
    assert [error[:3] for error in wrong] == [("series.csv", 2, "series")]
    assert "of which events.csv names an event" in wrong[0][3]


def test_an_event_of_a_series_that_is_not_there_is_refused():
    events = f"{EVENTS}E-1,Evening run,2025-06-04,2025-06-04,S-9,\n"
    assert [error[:3] for error in found(events=events, usage=None, notes=None)] == [("events.csv", 2, "series")]


def test_two_weeks_of_a_series_begin_on_different_days_unless_one_was_changed_alone():
    series = f"{SERIES}S-1,Evening run,2025-06-04,2025-07-01,1,1\n"
    events = f"{EVENTS}E-1,a,2025-06-04,2025-06-04,S-1,\nE-2,b,2025-06-04,2025-06-04,S-1,{{}}\n"
    files = {"series": series, "usage": None, "notes": None}
    assert found(events=events.format("yes"), **files) == []
    wrong = found(events=events.format("no"), **files)
    assert [error[:3] for error in wrong] == [("events.csv", 3, "starts_on")]


def test_a_load_with_series_is_taken_back_whole(keeper):
    _, stored = load(**FULL)
    take_back(stored, by=keeper, on=ON, reason="the wrong folder")
    assert not EventSeries.objects.exists() and not Event.objects.exists()
