"""Readings that curve or step must not become a date."""

import numpy as np
import pytest
from pool_fits import fit_and_assess
from published import grouped
from scipy.stats import chi2, norm

from inspections.numeric.line_checks import (
    LineCheck,
    SummedReadings,
    _quadratic_terms,
    alarm_threshold,
    line_p_values,
    set_up_line_check,
)
from inspections.numeric.segment_sums import choose_frame, sum_by_segment
from inspections.numeric.segment_trends import FitReadings, Segments
from inspections.numeric.straight_fit import fit_straight
from inspections.numeric.words import NoDateReason


def summed(segment, x, y):
    segment, x, y = np.asarray(segment), np.asarray(x, float), np.asarray(y, float)
    frame = choose_frame(x, y)
    return SummedReadings(segment, x, y, sum_by_segment(segment, x, y, segment.max() + 1, frame), frame)


def p_values(segment, x, y, sigma=0.07):
    return line_p_values(summed(segment, x, y), LineCheck(sigma, False, 0.0))


def test_three_readings_are_judged_by_their_squares_alone():
    x, y = [0, 1, 3], [1.0, 1.4, 1.5]
    expected = chi2.sf(fit_straight(x, y).residual_squares / 0.07**2, 1)
    assert p_values([0, 0, 0], x, y)[0] == pytest.approx(expected, rel=1e-10)


def test_more_readings_are_judged_by_squares_or_by_the_last_one():
    x, y = np.array([0, 1, 2, 3, 4.0]), np.array([1.0, 1.1, 1.22, 1.29, 1.85])
    line = fit_straight(x, y)
    leverage = 1 / 5 + (4 - line.x_mean) ** 2 / line.x_squares
    last = 2 * norm.sf(abs(1.85 - line.at(4)) / (0.07 * np.sqrt(1 - leverage)))
    expected = 2 * min(chi2.sf(line.residual_squares / 0.07**2, 3), last)
    # out of order in the file: the last one is the latest, not the lowest row
    order = [4, 2, 0, 3, 1]
    assert p_values(np.zeros(5, int), x[order], y[order])[0] == pytest.approx(expected, rel=1e-10)


def test_two_days_say_nothing_about_a_line():
    p = p_values([0, 0, 0, 1, 1, 2], [0, 1, 1, 0, 2, 1], [1.0, 1.2, 1.9, 0.8, 1.0, 0.5])
    assert np.isnan(p).all()


def test_threshold_is_three_sigma_or_benjamini_hochberg():
    # Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57, 289-300, the 15 P-values of their example in section 3.2:
    # at 5 % four are rejected; at 10 % nine are (0.0459 <= 9/15 * 0.10), so the single level 0.0027 decides.
    example = "1 4 19 95 201 278 298 344 459 3240 4262 5719 6528 7590 10000"
    example = np.array(example.split(), float) / 10_000
    assert alarm_threshold(example) == 0.0027
    # among 100 with one at 0.0009 the first rank's level, 0.001, decides
    assert alarm_threshold(np.array([0.0009] + [0.5] * 99)) == pytest.approx(0.001)


def test_none_rejected_flags_none_but_a_later_step_can_be():
    p = np.array([0.0012] + [0.5] * 99)
    threshold = alarm_threshold(p)
    assert not (p <= threshold).any()
    assert threshold == pytest.approx(0.001)


def test_a_pool_without_three_days_still_has_an_alarm_threshold():
    assert alarm_threshold(np.array([np.nan, np.nan])) == 0.0027


def simulated(seed, segments, step_db=0.0, stepped=0):
    """Five readings each over four years; the first `stepped` segments jump by `step_db` before their last two."""
    rng = np.random.default_rng(seed)
    segment = np.repeat(np.arange(segments), 5)
    x = np.sort(rng.uniform(0, 4, (segments, 5)), axis=1)
    y = (
        rng.normal(1.2, 0.3, (segments, 1))
        + rng.normal(0.3, 0.06, (segments, 1)) * x
        + rng.normal(0, 0.05, (segments, 5))
    )
    y[:stepped, 3:] += step_db
    return segment, x.ravel(), y.ravel()


def test_a_large_sound_pool_raises_no_false_alarm():
    # "beyond three sigma" alone would flag about 0.27 % of 20,000: 54
    segment, x, y = simulated(11, 20_000)
    material = summed(segment, x, y)
    check = set_up_line_check(material, 0.05)
    p = line_p_values(material, check)
    assert not check.pool_curves
    assert (p <= check.threshold).sum() == 0
    assert (p <= 0.0027).sum() > 20


def test_steps_are_found_and_mostly_true():
    segment, x, y = simulated(12, 10_000, step_db=0.5, stepped=100)
    material = summed(segment, x, y)
    check = set_up_line_check(material, 0.05)
    flagged = line_p_values(material, check) <= check.threshold
    assert flagged[:100].mean() > 0.6
    assert flagged[100:].sum() <= 0.2 * flagged.sum()


def alloy_a():
    segment, mcycles, inches, names = grouped("alloy_a")
    return FitReadings.of(segment, mcycles, inches), Segments.of(np.ones(len(names)), 0.12, limit_db=1.6)


def test_no_crack_of_alloy_a_gets_a_straight_line_date():
    # Hudak et al. 1978; Lu & Meeker 1993: all 21 paths curve
    readings, asked = alloy_a()
    model, trends = fit_and_assess(readings, asked)
    assert model.line_check.pool_curves
    assert model.line_check.sigma_db < model.fit.residual_sd / 2
    assert set(trends.no_date_reason) == {NoDateReason.NO_LINE}
    assert np.isnan([trends.early, trends.expected]).all()


def test_twelve_cracks_of_alloy_a_reached_the_limit():
    # Meeker & Escobar 1998, Table C.14 (count from memory, recomputed): specimens 1 to 12 by 0.12 million cycles
    segment, _, inches, names = grouped("alloy_a")
    crossed = {names[i] for i in range(21) if inches[segment == i].max() >= 1.6}
    assert crossed == {str(i) for i in range(1, 13)}


def test_a_line_through_the_beginning_of_a_crack_reaches_the_limit_41_to_77_percent_too_late():
    # crossings of 1.6 in interpolated from Table C.14 of Meeker & Escobar 1998, million cycles; recomputed
    crossed = "0.08750 0.10000 0.10105 0.10278 0.10313 0.10529 0.10571 0.10846 0.11294 0.11533 0.11688 0.11750"
    segment, x, y, names = grouped("alloy_a")
    late = []
    for number, truth in enumerate(map(float, crossed.split()), start=1):
        mine = segment == list(names).index(str(number))
        above = np.argmax(y[mine] >= 1.6)
        assert np.interp(1.6, y[mine][above - 1 : above + 1], x[mine][above - 1 : above + 1]) == pytest.approx(
            truth, abs=5e-6
        )
        line = fit_straight(x[mine][:6], y[mine][:6])
        late.append((1.6 - line.intercept) / line.slope / truth - 1)
    assert (min(late), max(late), np.mean(late)) == pytest.approx((0.41, 0.77, 0.57), abs=0.006)


def test_quadratic_terms_of_the_cracks():
    # t of the quadratic term is at least 7.6 (7.57) on every specimen; the least-squares parabola gives the same
    segment, x, y, _ = grouped("alloy_a")
    material = summed(segment, x, y)
    bend, squares = _quadratic_terms(material)
    n = material.sums.n
    t = bend / np.sqrt(squares * (material.sums.own_line_squares - bend**2 / squares) / (n - 3))
    assert t.min() == pytest.approx(7.6, abs=0.05)
    for i in range(21):
        by_library = np.polyfit(x[segment == i], y[segment == i], 2)[0]
        assert bend[i] / squares[i] / material.frame.x_scale**2 == pytest.approx(by_library, rel=1e-8)


def test_lasers_as_a_whole_do_not_curve():
    segment, hours, percent, names = grouped("lasers")
    model, trends = fit_and_assess(
        FitReadings.of(segment, hours / 1000, percent), Segments.of(np.ones(15), 4.0, limit_db=10)
    )
    assert not model.line_check.pool_curves
    refused = [name for name, reason in zip(names, trends.no_date_reason, strict=True) if reason]
    assert refused == ["107", "112"]  # a late rise and a step at 1250 h, both plain in Table C.17
