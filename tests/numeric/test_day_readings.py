"""The newest day of each segment, and what stands where there is none."""

import numpy as np
import pytest

from inspections.numeric.day_readings import DayReadings, SingleReadings, group_days


def day_readings(segment, day, loss_db, *, repeat=None, after_cleaning=None, instrument=None, **others):
    doubtful, held, over_at_db, within_at_db = map(others.get, ("doubtful", "held", "over_at_db", "within_at_db"))
    count = len(segment)
    losses = np.array(loss_db, float)

    def given(values, default):
        return np.full(count, default) if values is None else np.array(values)

    return group_days(
        SingleReadings(
            segment=np.array(segment, int),
            day=np.array(day, "datetime64[D]"),
            repeat=given(repeat, 1),
            after_cleaning=given(after_cleaning, False),
            loss_db=losses,
            reference_loss_db=losses,
            uncertainty_db=np.full(count, 0.1),
            instrument=given(instrument, 0),
            no_signal=np.zeros(count, bool),
            doubtful=given(doubtful, False),
            over_at_db=given(over_at_db, np.nan),
            within_at_db=given(within_at_db, np.nan),
            held=given(held, False),
        )
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


def test_the_lowest_repeat_that_counts_says_by_which_instrument_the_day_was_read():
    one_day, losses = {"segment": [3, 3, 3], "day": ["2026-05-01"] * 3}, [1.1, 1.2, 1.3]
    read = day_readings(**one_day, loss_db=losses, repeat=[3, 1, 2], instrument=[7, 8, 9])
    assert read.instrument.tolist() == [8]
    doubted = {"doubtful": [False, True, False], "repeat": [3, 1, 2]}
    assert day_readings(**one_day, loss_db=losses, instrument=[7, 8, 9], **doubted).instrument.tolist() == [9]
    cleaned = {"after_cleaning": [True, False, False], "repeat": [3, 1, 2]}
    assert day_readings(**one_day, loss_db=losses, instrument=[7, 8, 9], **cleaned).instrument.tolist() == [7]


def test_where_there_is_no_day_there_is_no_instrument(by_day):
    assert by_day.newest_of(np.array([5])).instrument.tolist() == [0]


def test_what_a_go_no_go_tester_said_counts_where_no_number_was_read():
    one_day = {"segment": [3, 3, 3], "day": ["2026-05-01"] * 3}
    said = {"over_at_db": [np.nan, 2.5, np.nan], "within_at_db": [3.0, np.nan, np.nan]}
    with_number = day_readings(**one_day, loss_db=[np.nan, np.nan, 1.2], **said)
    assert (with_number.loss_db.tolist(), np.isnan(with_number.over_at_db).all()) == ([1.2], True)
    alone = day_readings(**{name: column[:2] for name, column in one_day.items()}, loss_db=[np.nan] * 2, **cut(said))
    assert (alone.over_at_db.tolist(), alone.within_at_db.tolist()) == ([2.5], [3.0])
    assert np.isnan(alone.loss_db).all() and not alone.no_signal.any()


def cut(columns):
    return {name: column[:2] for name, column in columns.items()}


def test_a_reading_that_is_held_back_counts_only_where_no_other_of_its_day_does():
    losses, days = [1.1, 1.9, 2.8], ["2026-05-01", "2026-05-01", "2026-07-01"]
    read = day_readings([3, 3, 3], days, losses, repeat=[1, 2, 1], held=[False, True, True])
    assert (read.loss_db.tolist(), read.held.tolist()) == ([1.1, 2.8], [False, True])
    assert read.that_count.newest_of(np.array([3])).loss_db.tolist() == [1.1]
