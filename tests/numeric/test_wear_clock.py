"""Which clock the wear follows: years or events."""

from dataclasses import replace

import numpy as np
import pytest
from pool_fits import straight_fit

from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.wear_clock import compare_clocks


def pool(seed, follows, segments=150):
    """(FitReadings by years, by events, lengths): mats go out at different rates, so that the clocks differ; the loss
    follows one of them."""
    rng = np.random.default_rng(seed)
    segment = np.repeat(np.arange(segments), 5)
    years = rng.uniform(0, 4, len(segment))
    events = np.round(years * rng.uniform(15, 60, segments)[segment])
    clock = years if follows == "years" else events / 40
    rate = 0.2 + 0.05 * rng.standard_normal(segments)
    y = (
        (1 + 0.1 * rng.standard_normal(segments))[segment]
        + rate[segment] * clock
        + 0.07 * rng.standard_normal(len(segment))
    )
    return *(FitReadings.of(segment, x, y, years=years) for x in (years, events)), np.ones(segments)


@pytest.mark.parametrize("follows", ["years", "events"])
def test_the_clock_that_the_wear_follows_is_found(follows):
    found = compare_clocks(*pool(1, follows))
    assert found.better == follows
    assert (found.years_minus_events > 6) == (follows == "years")


def test_the_other_clock_is_proposed_and_the_present_one_is_not():
    found = compare_clocks(*pool(2, "events"))
    assert found.proposal("years") == "events"
    assert found.proposal("events") is None


def test_comparison_does_not_depend_on_the_unit():
    # ML, not REML: trap 2
    years, events, length_m = pool(3, "years")
    in_days = compare_clocks(replace(years, x=365.25 * years.x), events, length_m)
    assert in_days.years_minus_events == pytest.approx(compare_clocks(years, events, length_m).years_minus_events)


def test_clocks_that_run_alike_give_no_proposal():
    years, _, length_m = pool(4, "years")
    found = compare_clocks(years, replace(years, x=40 * years.x), length_m)
    assert found.years_minus_events == pytest.approx(0, abs=1e-6)
    assert found.proposal("years") is None


def test_no_spread_in_the_count_means_years():
    years, events, length_m = pool(5, "years")
    found = compare_clocks(years, replace(events, x=np.zeros_like(events.x)), length_m)
    assert np.isnan(found.years_minus_events)
    assert found.proposal("years") is None


def test_nothing_to_compare_gives_no_proposal():
    none = FitReadings.of([], [], [])
    assert compare_clocks(none, none, np.ones(3)).better is None


def test_log_likelihoods_agree_with_statsmodels():
    # which knows neither wander nor settling, so that both are left out of ours
    import statsmodels.api as sm

    years, events, length_m = pool(6, "years", segments=60)
    ours, theirs = [], []
    for readings, unit in ((years, 1), (events, 40)):
        # statsmodels warns of a boundary at variances below 0.01, whatever the unit
        readings = replace(readings, loss_db=10 * readings.loss_db)
        design = np.column_stack([np.ones(len(readings.x)), readings.x / unit])
        model = sm.MixedLM(readings.loss_db, design, readings.segment, design)
        theirs.append(model.fit(reml=False, method="bfgs", gtol=1e-5).llf)
        ours.append(straight_fit(readings, length_m, restricted=False).minus_two_log)
    assert ours[1] - ours[0] == pytest.approx(2 * (theirs[0] - theirs[1]), abs=1e-3)


def test_bench_days_do_not_decide_the_clock():
    # a whole day's shift is no wear: with the days named the clock is found as without them
    years, events, length_m = pool(7, "events")
    day = (years.years * 6).astype(int)
    shift = 0.15 * np.random.default_rng(7).standard_normal(24)[day]
    by_years, by_events = (
        replace(readings, loss_db=readings.loss_db + shift, day=day.astype(np.int64)) for readings in (years, events)
    )
    assert compare_clocks(by_years, by_events, length_m).better == "events"
