"""What the trend answers for each segment, and when it says that it does not know."""

import json

import numpy as np
import pytest
from pool_fits import fit_and_assess
from scipy.stats import t as student

from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.pool_model import PoolModel, fit_pool_model
from inspections.numeric.segment_trends import Segments, assess_segments
from inspections.numeric.straight_fit import fit_straight
from inspections.numeric.words import NoDateReason, NoModelReason


def make_pool(segments=150, readings=5, seed=1, lengths=(1.0, 2.0), sigma=0.07):
    """(FitReadings, Segments) of a sound pool: 0.2 + 0.5 dB/m at fitting, 0.1 + 0.1 dB/m a year."""
    rng = np.random.default_rng(seed)
    length_m = rng.choice(lengths, segments)
    segment = np.repeat(np.arange(segments), readings)
    x = np.sort(rng.uniform(0, 4, (segments, readings)), axis=1).ravel()
    level = 0.2 + 0.5 * length_m + 0.05 * rng.standard_normal(segments)
    rate = 0.1 + 0.1 * length_m + 0.04 * rng.standard_normal(segments)
    y = level[segment] + rate[segment] * x + sigma * rng.standard_normal(len(segment))
    return FitReadings.of(segment, x, y), Segments.of(length_m, 4.0)


def add(readings, segment, x, y, as_new=False):
    return FitReadings.of(
        np.append(readings.segment, np.full(len(x), segment)),
        np.append(readings.x, x),
        np.append(readings.loss_db, y),
        np.append(readings.as_new, np.full(len(x), as_new)),
    )


def with_one_more(readings, segments, x, y, length_m=1.0, as_new=False, **asked):
    """The pool with one more segment, in its last row, read `y` at `x`."""
    last = len(segments.length_m)
    return add(readings, last, x, y, as_new), Segments.of(np.append(segments.length_m, length_m), 4.0, **asked)


def test_segment_without_readings_gets_the_line_of_its_length():
    readings, segments = make_pool()
    model, trends = fit_and_assess(*with_one_more(readings, segments, [], [], length_m=3.0))
    a, b = model.fit.intercept_db, model.fit.rate_db
    assert trends.x_last[-1] == 0
    assert trends.states.level[-1] == pytest.approx(a[0] + 3 * a[1])
    assert trends.states.rate[-1] == pytest.approx(b[0] + 3 * b[1])
    assert not trends.own_readings[-1]
    assert trends.own_readings[:-1].all()


def test_longer_segments_of_a_kind_are_due_earlier():
    readings, segments = make_pool()
    lengths = np.append(segments.length_m, [1.0, 2.0, 3.0])
    _, trends = fit_and_assess(readings, Segments.of(lengths, 4.0))
    assert trends.early[-3] > trends.early[-2] > trends.early[-1]


def test_as_new_reading_alone_leaves_a_segment_to_similar_ones():
    readings, segments = make_pool()
    _, trends = fit_and_assess(*with_one_more(readings, segments, [0.0], [0.9], as_new=True))
    assert trends.readings[-1] == 1
    assert not trends.own_readings[-1]
    _, trends = fit_and_assess(*with_one_more(readings, segments, [0.0], [0.9], as_new=False))
    assert trends.own_readings[-1]


def test_many_readings_speak_for_themselves_and_few_lean_on_the_pool():
    readings, segments = make_pool()
    few, many = [0, 4.0], np.linspace(0, 4, 40)
    model, trends = fit_and_assess(*with_one_more(readings, segments, few, 0.7 + 0.3 * np.array(few)))
    _, trends_many = fit_and_assess(*with_one_more(readings, segments, many, 0.7 + 0.3 * many))
    pool_rate = model.fit.rate_db @ [1, 1]
    assert pool_rate < trends.states.rate[-1] < trends_many.states.rate[-1]
    # a pool that wanders does not let even forty readings of four years settle a rate
    assert trends_many.states.rate[-1] == pytest.approx(0.3, abs=0.05)


def test_age_not_known_gives_nothing_to_the_fit_and_gets_no_trend():
    readings, segments = make_pool()
    known = np.arange(150) != 7
    model, trends = fit_and_assess(readings, Segments.of(segments.length_m, 4.0, age_known=known))
    kept = readings.of_segments(known)
    assert model.readings == len(kept.x) == 745
    assert model.fit.coefficients == pytest.approx(fit_pool_model(kept, segments.length_m).model.fit.coefficients)
    assert trends.no_date_reason[7] is NoDateReason.AGE_NOT_KNOWN
    assert np.isnan([trends.chance_over[7], trends.early[7], trends.expected[7], trends.states.rate[7]]).all()
    assert trends.readings[7] == 0


def test_readings_before_the_fitting_count_at_the_fitting():
    readings, segments = make_pool()
    early, zero = readings.x.copy(), readings.x.copy()
    early[::5], zero[::5] = -0.3, 0.0
    moved = FitReadings.of(readings.segment, early, readings.loss_db)
    begun = FitReadings.of(readings.segment, zero, readings.loss_db)
    found, expected = (fit_pool_model(some, segments.length_m).model for some in (moved, begun))
    assert found.fit.coefficients.tolist() == expected.fit.coefficients.tolist()


def test_cleaned_segment_is_falling():
    readings, segments = make_pool(sigma=0.03)
    x = np.linspace(0, 4, 9)
    _, trends = fit_and_assess(*with_one_more(readings, segments, x, 2.4 - 0.3 * x))
    assert trends.no_date_reason[-1] is NoDateReason.FALLING
    assert np.isnan([trends.chance_over[-1], trends.early[-1], trends.expected[-1]]).all()
    assert trends.falling_chance[-1] > 0.975


def test_slow_segment_is_later_than_40_years():
    readings, segments = make_pool()
    x = np.linspace(0, 16, 60)
    _, trends = fit_and_assess(*with_one_more(readings, segments, x, 0.7 + 0.01 * x))
    assert trends.no_date_reason[-1] is NoDateReason.LATER
    assert np.isinf(trends.expected[-1])


def test_limit_and_risk_may_differ_by_segment():
    readings, segments = make_pool()
    low = Segments.of(segments.length_m, 4.0, limit_db=np.where(np.arange(150) == 0, 2.0, 3.0), accepted_risk=0.05)
    _, plain = fit_and_assess(readings, segments)
    _, changed = fit_and_assess(readings, low)
    assert changed.early[0] < plain.early[0]
    assert changed.early[1:] == pytest.approx(plain.early[1:], nan_ok=True)


@pytest.mark.parametrize("risk", [0.0, -0.1, 0.51, 1.0])
def test_accepted_risk_outside_its_range_is_refused(risk):
    with pytest.raises(ValueError, match="accepted risk"):
        Segments.of([1.0], 1.0, accepted_risk=risk)


def test_an_endless_horizon_is_refused():
    with pytest.raises(ValueError, match="horizon"):
        Segments.of([1.0], 1.0, horizon=np.inf)


@pytest.mark.parametrize(("x", "loss"), [(np.nan, 1.0), (1.0, np.nan), (1.0, np.inf)])
def test_reading_without_time_or_loss_is_refused(x, loss):
    with pytest.raises(ValueError, match="reference loss"):
        FitReadings.of([0], [x], [loss])


# --- whether there is a pool model at all


def few_segments(count, readings=4):
    segment = np.repeat(np.arange(count), readings)
    x = np.tile(np.linspace(0.5, 3, readings), count)
    return FitReadings.of(segment, x, 1 + 0.3 * x + 0.02 * np.sin(7 * x + segment))


def test_four_segments_read_on_two_days_are_no_pool():
    model, trends = fit_and_assess(few_segments(4), Segments.of(np.ones(6), 4.0))
    assert model.fit is None
    assert model.no_model_reason is NoModelReason.FEW_SEGMENTS
    assert trends.no_date_reason.tolist() == [None] * 4 + [NoDateReason.TOO_FEW_READINGS] * 2
    assert np.isnan(trends.chance_over[4:]).all()
    assert fit_and_assess(few_segments(5), Segments.of(np.ones(5), 4.0))[0].fit is not None


def test_single_segment_is_dated_by_students_t():
    readings = few_segments(1, readings=5)
    _, trends = fit_and_assess(readings, Segments.of([1.0], 7.0, accepted_risk=0.05))
    line = fit_straight(readings.x, readings.loss_db)

    def chance(x):
        return student.cdf((line.at(x) - 3.0) / line.line_se(x), 3)

    assert trends.chance_over[0] == pytest.approx(chance(7.0), rel=1e-9)
    assert chance(trends.early[0]) == pytest.approx(0.05, rel=1e-9)
    assert trends.early[0] < trends.expected[0]
    assert trends.expected[0] == pytest.approx((3.0 - line.intercept) / line.slope, rel=1e-12)
    assert trends.own_readings[0]


def test_single_segment_needs_three_days():
    two_days = FitReadings.of([0, 0, 0], [1.0, 2.0, 2.0], [1.0, 1.4, 1.5])
    _, trends = fit_and_assess(two_days, Segments.of([1.0], 3.0))
    assert trends.no_date_reason[0] is NoDateReason.TOO_FEW_READINGS


def test_single_segment_with_an_unsettled_rate_has_a_chance_and_no_date():
    noisy = FitReadings.of([0] * 4, [0.0, 1, 2, 3], [1.0, 1.4, 1.0, 1.3])
    _, trends = fit_and_assess(noisy, Segments.of([1.0], 3.0))
    assert trends.no_date_reason[0] is NoDateReason.NOT_SETTLED
    assert np.isnan([trends.early[0], trends.expected[0]]).all()
    assert 0 < trends.chance_over[0] < 0.1


def test_single_segment_that_falls_is_a_finding():
    fallen = FitReadings.of([0] * 4, [0.0, 1, 2, 3], [2.0, 1.8, 1.61, 1.4])
    _, trends = fit_and_assess(fallen, Segments.of([1.0], 3.0))
    assert trends.no_date_reason[0] is NoDateReason.FALLING


def test_single_segment_already_over_is_due_at_its_fitting():
    over = FitReadings.of([0] * 4, [0.0, 1, 2, 3], [3.2, 3.41, 3.59, 3.8])
    _, trends = fit_and_assess(over, Segments.of([1.0], 3.0))
    assert (trends.early[0], trends.expected[0]) == (0, 0)
    assert trends.chance_over[0] == pytest.approx(1, abs=1e-3)


def test_single_segment_without_any_scatter_is_certain():
    exact = FitReadings.of([0] * 4, [0.0, 1, 2, 4], [1.0, 1.5, 2.0, 3.0])
    _, trends = fit_and_assess(exact, Segments.of([1.0, 1.0], 3.0))
    assert trends.chance_over[0] == pytest.approx(0, abs=1e-12)
    assert trends.early[0] == pytest.approx(4, abs=1e-6)


def test_all_readings_at_the_fitting_are_no_pool():
    as_new = FitReadings.of(np.arange(200), np.zeros(200), np.linspace(0.5, 1.5, 200), np.ones(200, bool))
    model, trends = fit_and_assess(as_new, Segments.of(np.ones(200), 1.0))
    assert (model.fit, model.no_model_reason) == (None, NoModelReason.ONE_TIME)
    assert set(trends.no_date_reason) == {NoDateReason.ONE_TIME}


def test_no_readings_are_no_pool():
    model, trends = fit_and_assess(FitReadings.of([], [], []), Segments.of(np.ones(3), 1.0))
    assert (model.segments, model.readings, model.fit) == (0, 0, None)
    assert np.isnan(trends.early).all()


@pytest.mark.parametrize("segments", [3, 20, 150])
def test_asking_for_no_segments_gives_no_answers(segments):
    readings, asked = make_pool(segments=segments)
    model = fit_pool_model(readings, asked.length_m).model
    assert assess_segments(model, FitReadings.of([], [], []), Segments.of([], [])).early.size == 0


def test_as_new_readings_of_a_large_pool_are_passed_over_quickly():
    # 100,000 as-new readings, then four segments read: no pool model, and no search through each segment's readings
    count = 100_000
    as_new = FitReadings.of(np.arange(count), np.zeros(count), np.full(count, 0.9), np.ones(count, bool))
    readings = add(as_new, 7, [1.0, 2.0, 3.0], [1.2, 1.51, 1.8])
    model, trends = fit_and_assess(readings, Segments.of(np.ones(count), 4.0))
    assert model.no_model_reason is NoModelReason.FEW_SEGMENTS
    assert np.flatnonzero(np.isfinite(trends.early)).tolist() == [7]


def test_no_segment_read_twice_takes_sigma_from_the_instrument():
    rng = np.random.default_rng(4)
    x = rng.uniform(0, 5, 300)
    readings = FitReadings.of(np.arange(300), x, 1 + 0.3 * x + 0.2 * rng.standard_normal(300))
    model, trends = fit_and_assess(readings, Segments.of(np.ones(300), 4.0), instrument_sd_db=0.12)
    assert model.fit.sigma_from_instrument
    assert model.fit.residual_sd == pytest.approx(0.12)
    assert np.isfinite(trends.chance_over).all()


# two readings each do not tell what settles from the rate: the date is earlier by a quarter of what may
@pytest.mark.parametrize(("readings", "segments", "years"), [(3, 12, 0.05), (5, 150, 0.05), (2, 40, 0.5)])
def test_copied_readings_without_noise_take_sigma_from_the_instrument(readings, segments, years):
    x = np.tile(np.arange(readings) * 1.0, segments)
    exact = FitReadings.of(np.repeat(np.arange(segments), readings), x, 1 + 0.25 * x)
    model, trends = fit_and_assess(exact, Segments.of(np.ones(segments), 4.0), instrument_sd_db=0.15)
    assert model.fit.sigma_from_instrument
    assert trends.expected == pytest.approx(np.full(segments, 8.0), abs=years)


@pytest.mark.parametrize(
    ("lengths", "spread", "expected"),
    [
        ((1.0, 2.0), (True, True), True),
        ((1.0, 2.0), (True, False), False),
        ((1.0, 1.0), (True, True), False),
    ],
    ids=["two lengths", "one of them read at one time", "one length"],
)
def test_length_terms_only_where_lengths_can_be_told_apart(lengths, spread, expected):
    rng = np.random.default_rng(3)
    length_m = np.repeat(lengths, 20)
    segment = np.repeat(np.arange(40), 4)
    x = np.where(np.array(spread)[segment // 20], rng.uniform(0, 4, 160), 1.0)
    y = 1 + 0.2 * length_m[segment] + 0.1 * x + 0.05 * rng.standard_normal(160)
    model = fit_pool_model(FitReadings.of(segment, x, y), length_m).model
    assert model.fit.with_length is expected
    assert len(model.fit.coefficients) == (4 if expected else 2)
    assert (model.fit.intercept_db[1] != 0, model.fit.rate_db[1] != 0) == (expected, expected)


# --- a stored model


def test_stored_model_answers_for_one_segment_after_a_new_reading():
    readings, segments = make_pool()
    model, trends = fit_and_assess(readings, segments)
    stored = PoolModel.from_json(json.loads(json.dumps(model.as_json())))
    mine = readings.segment == 9
    before = FitReadings.of(np.zeros(5), readings.x[mine], readings.loss_db[mine])
    after = add(before, 0, [4.1], [trends.states.at(4.1 - trends.x_last[9])[9] + 0.1])
    asked = segments.take([9])
    assert assess_segments(stored, before, asked).early[0] == pytest.approx(trends.early[9], rel=1e-9)
    assert assess_segments(stored, after, asked).early[0] < trends.early[9]


def test_a_pool_without_a_model_is_stored_too():
    model = fit_pool_model(few_segments(3), np.ones(3)).model
    stored = PoolModel.from_json(json.loads(json.dumps(model.as_json())))
    assert stored == model
    assert stored.no_model_reason is NoModelReason.FEW_SEGMENTS


@pytest.mark.process
def test_importing_the_numeric_core_loads_neither_django_nor_scipy():
    import subprocess
    import sys

    modules = ", ".join(f"inspections.numeric.{name}" for name in ("segment_trends", "wear_clock", "straight_fit"))
    code = (
        f"import sys, {modules};"
        "print(sorted({m.split('.')[0] for m in sys.modules} & {'django', 'scipy', 'pandas'}))"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
