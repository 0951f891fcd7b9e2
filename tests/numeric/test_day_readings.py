"""The newest day of each segment, and what stands where there is none."""

import numpy as np
import pytest

from inspections.numeric.day_readings import DayReadings, group_days


def day_readings(segment, day, loss_db):
    count = len(segment)
    day, none = np.array(day, "datetime64[D]"), np.zeros(count, bool)
    losses = np.array(loss_db, float)
    return group_days(
        np.array(segment, int), day, np.ones(count, int), none, losses, losses, np.full(count, 0.1), none, none
    )


@pytest.fixture
def by_day():
    return day_readings([3, 3, 8], ["2026-05-01", "2026-07-01", "2026-06-01"], [1.1, 1.3, 2.0])


def test_the_newest_of_each_segment_is_found(by_day):
    newest = by_day.newest_of(np.array([8, 3]))
    assert newest.segment.tolist() == [8, 3]
    assert newest.loss_db.tolist() == [2.0, 1.3]
    assert newest.day.tolist() == np.array(["2026-06-01", "2026-07-01"], "datetime64[D]").tolist()


@pytest.mark.parametrize("segment", [1, 5, 9])
def test_a_segment_without_a_reading_has_nothing_of_another(by_day, segment):
    newest = by_day.newest_of(np.array([segment, 3]))
    assert newest.segment.tolist() == [-1, 3]
    assert np.isnat(newest.day).tolist() == [True, False]
    assert np.isnan([newest.loss_db, newest.reference_loss_db, newest.uncertainty_db])[:, 0].all()
    assert not (newest.no_signal[0] or newest.doubtful[0])


def test_without_any_reading_no_segment_has_one():
    newest = day_readings([], [], []).newest_of(np.array([1, 2]))
    assert isinstance(newest, DayReadings)
    assert newest.segment.tolist() == [-1, -1]
    assert np.isnat(newest.day).all()


def test_no_segments_have_no_rows(by_day):
    assert by_day.newest_of(np.zeros(0, int)).loss_db.size == 0
