"""A bench day that is newer than the fit: its readings count at once, with the shift that its other readings tell."""

from datetime import date, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_instrument, make_mat, make_reading, make_segment
from invariant_assessments import new_bench_days_are_fresh, stale_assessments

from fleet.models import Mat
from inspections.assessment import services
from inspections.assessment.pool_fits import stored_fit
from inspections.bench.services import TypedReading, clear_doubt, mark_doubtful, record_readings, void_reading
from inspections.models import Assessment, BenchDay, Measurement
from inspections.validators import TypedLoss

pytestmark = pytest.mark.django_db
FITTED_ON = date(2023, 10, 1)
ON = date(2026, 9, 30)
HIGH_DB = 0.3
SHIFTS_DB = np.array([0.1, -0.1, -0.05, 0.08, 0.0, -0.12, 0.11, 0.03, -0.09, 0.02, -0.06, 0.08])


def level_db(segment, day):
    """What a cable of this pool loses itself."""
    return 0.2 + (0.5 + 0.25 * (day - FITTED_ON).days / 365.25) * segment.length_m


def make_pool():
    """Ten mats, measured on twelve days that read high or low."""
    rng = np.random.default_rng(7)
    for _ in range(10):
        make_mat(fitted=True, fitted_on=FITTED_ON)
    for number, shift_db in enumerate(SHIFTS_DB):
        day = FITTED_ON + timedelta(30 + 80 * number)
        for mat in Mat.objects.all()[number % 2 :: 2]:
            for fitting in mat.fittings.select_related("segment"):
                loss_db = level_db(fitting.segment, day) + shift_db + 0.02 * rng.standard_normal()
                make_reading(fitting.segment, round(float(loss_db), 3), day)
    services.assess_pool(ON)


@pytest.fixture(scope="module")
def pool(shared_rows):
    with shared_rows(make_pool):
        yield


@pytest.fixture
def mats(pool):
    return list(Mat.objects.order_by("pk"))


def measure(mat, *, by, high_db=HIGH_DB, day=ON, **values):
    """Type the losses of a mat as a bench finds them that reads high."""
    rng = np.random.default_rng(mat.pk)
    fitted = [fitting.segment for fitting in mat.fittings.select_related("segment")]
    losses = [round(float(level_db(each, day) + high_db + 0.02 * rng.standard_normal()), 3) for each in fitted]
    typed = [TypedReading(segment, TypedLoss(loss)) for segment, loss in zip(fitted, losses, strict=True)]
    return record_readings(mat, typed, by=by, on=ON, measured_on=day, **values)


def levels(mat):
    rows = Assessment.objects.filter(mat=mat).order_by("position")
    return np.array(rows.values_list("trend_level_db", flat=True))


def true_levels(mat, day=ON):
    segments = [fitting.segment for fitting in mat.fittings.order_by("position").select_related("segment")]
    return np.array([level_db(segment, day) for segment in segments])


def new_day():
    return BenchDay.objects.get(in_fit=False)


def test_each_bench_day_of_the_fit_is_kept_with_its_readings_and_its_shift(pool):
    days = BenchDay.objects.order_by("measured_on")
    assert [day.readings for day in days] == [20] * 12
    assert {day.in_fit for day in days} == {True}
    assert [day.shift_db for day in days] == pytest.approx(SHIFTS_DB, abs=0.06)
    assert all(0 < day.shift_sd_db < 0.1 for day in days)


def test_readings_typed_mat_after_mat_give_all_cables_of_the_session_the_shift_of_the_day(mats, keeper):
    first, second, third = mats[:3]
    measure(first, by=keeper)
    alone = new_day()
    assert (alone.measured_on, alone.instrument, alone.readings) == (ON, None, 4)
    assert alone.shift_db == pytest.approx(HIGH_DB, abs=3 * alone.shift_sd_db)
    measure(second, by=keeper)
    measure(third, by=keeper)
    day = new_day()
    assert (day.readings, day.shift_db) == (12, pytest.approx(HIGH_DB, abs=3 * day.shift_sd_db))
    assert day.shift_sd_db < alone.shift_sd_db
    for mat in mats[:3]:
        assert levels(mat) == pytest.approx(true_levels(mat), abs=HIGH_DB / 2)
    assert [*stale_assessments(ON, Assessment.objects.all()), *new_bench_days_are_fresh()] == []


def test_a_refit_leaves_the_shift_of_a_new_day_where_it_was(mats, keeper):
    # of mats that were all fitted together a part of it may be wear: both times that is counted in
    for mat in mats[:3]:
        measure(mat, by=keeper)
    before = new_day()
    services.assess_pool(ON)
    after = BenchDay.objects.get(measured_on=ON)
    assert after.in_fit
    assert after.shift_db == pytest.approx(before.shift_db, abs=before.shift_sd_db / 2)
    assert after.shift_sd_db == pytest.approx(before.shift_sd_db, rel=0.4)


def test_a_single_reading_of_a_day_is_only_as_good_as_a_day_of_which_nothing_else_is_known(mats, keeper):
    segment = mats[0].fittings.first().segment
    loss_db = level_db(segment, ON) + HIGH_DB
    record_readings(mats[0], [TypedReading(segment, TypedLoss(loss_db))], by=keeper, on=ON, measured_on=ON)
    day = new_day()
    assert day.readings == 1 and 0 < day.shift_db < HIGH_DB
    before = Assessment.objects.get(segment=segment)
    measure(mats[1], by=keeper)
    after = Assessment.objects.get(segment=segment)
    # the others tell what of it was the day's, so that it is surer then
    assert (new_day().readings, after.trend_c00 < before.trend_c00) == (5, True)
    assert after.trend_level_db == pytest.approx(level_db(segment, ON), abs=HIGH_DB / 2)


def test_the_shift_before_and_after_a_fit_agree_within_their_uncertainty(mats, keeper):
    for mat in mats[:4]:
        measure(mat, by=keeper)
    before, level = new_day(), levels(mats[0])
    services.assess_pool(ON)
    after = BenchDay.objects.get(measured_on=ON)
    assert after.in_fit and after.readings == 16
    assert abs(after.shift_db - before.shift_db) < 2 * (before.shift_sd_db + after.shift_sd_db)
    for mat in mats[:4]:
        assert levels(mat) == pytest.approx(true_levels(mat), abs=HIGH_DB / 2)
    sd_db = np.sqrt(Assessment.objects.filter(mat=mats[0]).values_list("trend_c00", flat=True))
    assert (np.abs(levels(mats[0]) - level) < 2 * sd_db).all()


@pytest.mark.parametrize("act", [void_reading, mark_doubtful])
def test_a_reading_that_counts_no_longer_leaves_the_shift(mats, keeper, act):
    measure(mats[0], by=keeper)
    without = new_day().shift_db
    wrong = Measurement.objects.create(
        segment=mats[1].fittings.first().segment, measured_on=ON, loss_db=9.0, recorded_by=keeper
    )
    services.reassess([wrong.segment_id], on=ON)
    assert (new_day().readings, new_day().shift_db > without + 0.05) == (5, True)
    act(wrong, by=keeper, on=ON, reason="another cable")
    assert (new_day().readings, new_day().shift_db) == (4, pytest.approx(without))
    assert [*stale_assessments(ON, Assessment.objects.all()), *new_bench_days_are_fresh()] == []


def test_a_doubt_that_is_cleared_brings_the_reading_back(mats, keeper):
    reading, *_ = measure(mats[0], by=keeper)
    whole = new_day().shift_db
    mark_doubtful(reading, by=keeper, on=ON, reason="loose adapter")
    assert new_day().readings == 3
    clear_doubt(reading, by=keeper, on=ON, reason="it was tight")
    assert (new_day().readings, new_day().shift_db) == (4, pytest.approx(whole))


def test_a_day_of_which_no_reading_is_left_is_no_more(mats, keeper):
    before = levels(mats[0])
    for reading in measure(mats[0], by=keeper):
        void_reading(reading, by=keeper, on=ON, reason="typed for another mat")
    assert not BenchDay.objects.filter(in_fit=False).exists()
    assert levels(mats[0]) == pytest.approx(before)


def test_another_instrument_of_the_day_is_another_bench_day(mats, keeper):
    bench = make_instrument("Bench 2")
    measure(mats[0], by=keeper)
    measure(mats[1], by=keeper, high_db=-HIGH_DB, instrument=bench)
    shifts = dict(BenchDay.objects.filter(in_fit=False).values_list("instrument__name", "shift_db"))
    assert shifts[None] > 0.1 and shifts["Bench 2"] < -0.1


def test_cables_read_on_two_new_days_are_assessed_as_the_whole_pool_would_be(mats, keeper):
    day_before = ON - timedelta(1)
    for mat in mats[:2]:
        measure(mat, by=keeper, day=day_before)
    for mat in mats[1:3]:
        measure(mat, by=keeper, high_db=-HIGH_DB)
    assert BenchDay.objects.filter(in_fit=False).count() == 2
    assert [*stale_assessments(ON, Assessment.objects.all()), *new_bench_days_are_fresh()] == []
    # a preview of one cable says the same
    segment = mats[2].fittings.first().segment_id
    (row,) = services.assessments(ON, [segment], fitted=stored_fit())
    assert (row.segment_id, row.trend_level_db) == (
        segment,
        pytest.approx(Assessment.objects.get(segment=segment).trend_level_db),
    )


def test_a_late_reading_of_a_day_of_the_fit_takes_the_shift_that_the_fit_found(mats, keeper):
    late = FITTED_ON + timedelta(30 + 80 * 11)
    shift_db = BenchDay.objects.get(measured_on=late).shift_db
    segment = make_segment(1.6)
    fit(segment, make_mat(), 1, FITTED_ON)
    make_reading(segment, round(level_db(segment, late) + shift_db, 3), late)
    services.reassess([segment.pk], on=ON)
    assert not BenchDay.objects.filter(in_fit=False).exists()
    row = Assessment.objects.get(segment=segment)
    assert row.trend_level_db == pytest.approx(level_db(segment, late), abs=0.1)
    assert [*stale_assessments(ON, Assessment.objects.all()), *new_bench_days_are_fresh()] == []


def test_the_number_of_queries_grows_neither_with_the_day_nor_with_the_pool(mats, keeper):
    counts = []
    for session in (mats[:1], mats[1:3], mats[3:]):
        for mat in session:
            rows = measure(mat, by=keeper)
        with CaptureQueriesContext(connection) as queries:
            services.reassess([rows[0].segment_id], on=ON)
        counts.append(len(queries))
    assert len(set(counts)) == 1, counts


def test_who_is_measured_beside_others_needs_no_reading_of_those_who_are_not(mats, keeper):
    measure(mats[0], by=keeper)
    elsewhere = mats[5].fittings.first().segment_id
    with CaptureQueriesContext(connection) as queries:
        services.reassess([elsewhere], on=ON)
    written = [query["sql"] for query in queries if query["sql"].startswith("DELETE")]
    assert [sql.count(str(elsewhere)) for sql in written] == [1]
