"""Which clock the wear follows: years or events."""

import numpy as np
import pytest

from inspections.numeric.wear_clock import compare_clocks


def pool(seed, follows, segments=150):
    """Mats go out at different rates, so that the clocks differ; the loss follows one of them."""
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
    return segment, years, events, y, np.ones(segments)


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
    segment, years, events, y, length_m = pool(3, "years")
    in_days = compare_clocks(segment, 365.25 * years, events, y, length_m)
    assert in_days.years_minus_events == pytest.approx(
        compare_clocks(segment, years, events, y, length_m).years_minus_events
    )


def test_clocks_that_run_alike_give_no_proposal():
    segment, years, _, y, length_m = pool(4, "years")
    found = compare_clocks(segment, years, 40 * years, y, length_m)
    assert found.years_minus_events == pytest.approx(0, abs=1e-6)
    assert found.proposal("years") is None


def test_no_spread_in_the_count_means_years():
    segment, years, events, y, length_m = pool(5, "years")
    found = compare_clocks(segment, years, np.zeros_like(events), y, length_m)
    assert np.isnan(found.years_minus_events)
    assert found.proposal("years") is None


def test_nothing_to_compare_gives_no_proposal():
    none = np.array([])
    assert compare_clocks(none.astype(int), none, none, none, np.ones(3)).better is None


def test_log_likelihoods_agree_with_statsmodels():
    import statsmodels.api as sm

    segment, years, events, y, length_m = pool(6, "years", segments=60)
    y = 10 * y  # statsmodels warns of a boundary at variances below 0.01, whatever the unit
    fits = []
    for x in (years, events / 40):
        design = np.column_stack([np.ones(len(x)), x])
        fits.append(sm.MixedLM(y, design, segment, design).fit(reml=False, method="bfgs", gtol=1e-5).llf)
    found = compare_clocks(segment, years, events, y, length_m)
    assert found.years_minus_events == pytest.approx(2 * (fits[0] - fits[1]), abs=1e-3)
