"""The straight line against published and certified values; sources beside each."""

import numpy as np
import pytest
from published import grouped, pairs
from scipy.stats import t as student

from inspections.numeric.crossings import time_at_z
from inspections.numeric.single_segments import band_standard_errors, single_trend, state_at
from inspections.numeric.straight_fit import TooFewReadings, fit_straight


def analysis_of_variance(line):
    """(R squared, F ratio, squares of the regression)."""
    regression = line.slope**2 * line.x_squares
    return regression / (regression + line.residual_squares), regression / line.residual_sd**2, regression


def interval(line, x, confidence):
    """(low, high) of the line itself at `x`, by Student's t."""
    half = student.ppf((1 + confidence) / 2, line.degrees) * line.line_se(x)
    return line.at(x) - half, line.at(x) + half


def interval_of_next_reading(line, x, confidence):
    half = student.ppf((1 + confidence) / 2, line.degrees) * np.hypot(line.line_se(x), line.residual_sd)
    return line.at(x) - half, line.at(x) + half


def crossing(line, level, confidence, *, of_reading=False):
    """(estimate, low, high): when the chance of being over `level` is one half, and at both ends of the interval.

    That is Fieller's interval, for the line or for one new reading, whose level scatters by its own variance more.
    """
    z = student.ppf((1 + confidence) / 2, line.degrees)
    state = state_at(line, 0.0)
    state = state._replace(c00=state.c00 + of_reading * line.residual_sd**2)
    return tuple(float(time_at_z(state, level, at)) for at in (0.0, -z, z))


def wald_error(line, level, *, of_reading=False):
    """Standard error of the estimated crossing by the delta method."""
    estimate = (level - line.intercept) / line.slope
    return np.hypot(line.line_se(estimate), of_reading * line.residual_sd) / abs(line.slope)


def fieller_g(line, confidence):
    """At 1 and above the interval has no end: the slope is not told from nothing."""
    return (student.ppf((1 + confidence) / 2, line.degrees) * line.slope_se / line.slope) ** 2


def test_norris_agrees_with_the_certificate():
    # NIST StRD, linear regression, Norris: certified to 15 digits; the centred formula keeps 13 of them.
    line = fit_straight(*pairs("norris"))
    certified = {
        "intercept": -0.262323073774029,
        "slope": 1.00211681802045,
        "intercept_se": 0.232818234301152,
        "slope_se": 0.000429796848199937,
        "residual_sd": 0.884796396144373,
        "residual_squares": 26.6173985294224,
    }
    assert {name: getattr(line, name) for name in certified} == pytest.approx(certified, rel=1e-10)
    # R squared, F, and the squares of the regression
    assert analysis_of_variance(line) == pytest.approx(
        (0.999993745883712, 5436385.54079785, 4255954.13232369), rel=1e-10
    )


def test_pressure_line_of_the_nist_handbook():
    # NIST/SEMATECH e-Handbook 4.4.4; digits of the fit recomputed. The file's own fitted values (three decimals) differ
    # from an exact fit of the data as printed by up to 0.001: the handbook fitted more digits than it prints.
    x, y = pairs("pressure")
    line = fit_straight(x, y)
    assert (line.intercept, line.slope, line.residual_sd) == pytest.approx(
        (7.748997392, 3.930140438, 4.299098908), rel=1e-6
    )
    assert (line.intercept_se, line.slope_se) == pytest.approx((2.353847650, 0.050701834), rel=1e-6)
    assert line.at(x[:3]) == pytest.approx([222.920, 99.411, 238.744], abs=1.01e-3)
    assert line.at(x[:3]) == pytest.approx([222.92025625, 99.41166283, 238.74300165], rel=1e-9)


def test_degradation_data_of_the_nist_handbook():
    # NIST/SEMATECH e-Handbook 8.4.2.3: 15 units, percent change, failure at 30; activation energy from 45 readings.
    celsius = np.repeat([65, 85, 105], 15)
    percent = (
        "0.87 1.48 2.81 0.33 0.96 2.13 0.94 2.91 5.67 0.72 1.98 4.28 0.66 0.99 2.14 "
        "1.41 2.47 5.71 3.61 8.99 17.69 2.13 5.72 11.54 4.36 9.82 19.55 6.91 17.37 34.84 "
        "24.58 62.02 124.10 9.73 24.07 48.06 4.74 11.53 23.72 23.61 58.21 117.20 10.90 27.85 54.97"
    )
    change, hours = np.array(percent.split(), float), np.tile([200, 500, 1000], 15)
    x, y = 100000 / (8.617 * (celsius + 273.16)), np.log(30) - (np.log(change) - np.log(hours))
    line = fit_straight(x, y)
    published = (-18.94337, 1.83343, 0.81877, 0.05641)
    assert (line.intercept, line.intercept_se, line.slope, line.slope_se) == pytest.approx(published, abs=5e-6)
    assert (line.residual_sd, line.degrees) == pytest.approx((0.5611, 43), rel=3e-4)
    assert analysis_of_variance(line)[:2] == pytest.approx((0.8305, 210.7), rel=3e-4)
    residual = y - line.at(x)
    assert (residual.min(), np.median(residual), residual.max()) == pytest.approx(
        (-0.82806, -0.04028, 1.12534), abs=1e-5
    )


def test_a_line_needs_two_times():
    for x, y in (([], []), ([1.0], [2.0]), ([3.0, 3.0], [1.0, 1.1])):
        with pytest.raises(TooFewReadings, match="two different times"):
            fit_straight(x, y)


def test_two_readings_have_a_slope_but_no_spread():
    line = fit_straight([0.0, 2.0], [1.0, 1.5])
    assert line.slope == pytest.approx(0.25)
    assert np.isnan(line.residual_sd)


def test_days_since_1970_cost_no_digits():
    # Trap 1: with raw sums this slope is lost without an error.
    x, y = pairs("norris")
    far = fit_straight(x + 20000 * 86400, y)
    assert far.slope == pytest.approx(1.00211681802045, rel=1e-9)


CRYSTAL = (
    np.arange(2, 29, 2.0),
    [0.08, 1.12, 4.43, 4.98, 4.92, 7.18, 5.57, 8.40, 8.81, 10.81, 11.16, 10.12, 13.12, 15.04],
)
CHAMBER = (
    np.arange(0, 101, 10.0),
    [206.36, 225.52, 252.18, 289.33, 318.11, 349.49, 383.03, 410.70, 444.40, 469.14, 501.16],
)
THERMOMETER = (np.arange(96, 111, 2.0), [95.71, 98.16, 99.52, 102.09, 103.79, 106.18, 108.14, 110.21])
ARSENIC_READINGS = (
    ".17 .25 .01 .12 1.25 .86 1.25 1.10 2.01 2.03 2.14 1.74 3.18 2.99 3.23 3.37 "
    "3.91 3.90 3.61 4.27 4.88 5.33 4.96 4.98 6.09 6.17 6.07 5.97 6.67 7.02 7.14 7.30"
)
ARSENIC = (np.repeat(np.arange(8.0), 4), np.array(ARSENIC_READINGS.split(), float))


@pytest.mark.parametrize(
    ("data", "level", "confidence", "of_reading", "digits", "printed"),
    [
        # Greenwell & Schubert Kabban 2014, R Journal 6(1), from Graybill & Iyer 1994 p. 119
        (CRYSTAL, 8, 0.95, False, (15.888195, 14.658959, 17.159632), (15.8882, 14.6590, 17.1596)),
        # Graybill & Iyer 1994 p. 434
        (CRYSTAL, 5, 0.90, False, (9.929058, 8.650259, 11.047897), (9.93, 8.65, 11.05)),
        # p. 433
        (CHAMBER, 400, 0.99, False, (66.520043, 65.070894, 68.025832), (66.5, 65.07, 68.03)),
        # p. 431
        (THERMOMETER, 104, 0.95, True, (103.994916, 103.404051, 104.589459), (103.995, 103.4, 104.6)),
        (THERMOMETER, 100, 0.90, True, (100.112318, 99.629403, 100.588503), (100.1, 99.63, 100.59)),
        # R Journal 2014
        (ARSENIC, 3, 0.90, True, (2.931449, 2.603537, 3.258658), (2.9314, 2.6035, 3.2587)),
    ],
    ids=["crystal 8", "crystal 5", "reaction chamber", "thermometer 104", "thermometer 100", "arsenic"],
)
def test_fieller_intervals_of_the_textbooks(data, level, confidence, of_reading, digits, printed):
    ours = crossing(fit_straight(*data), level, confidence, of_reading=of_reading)
    assert ours == pytest.approx(digits, rel=1e-6)
    for value, text in zip(ours, printed, strict=True):
        decimals = len(str(text).partition(".")[2])
        assert value == pytest.approx(text, abs=0.51 * 10**-decimals)


def test_arsenic_line_and_wald_error():
    # R Journal 2014: line = 3 gives (2.8724, 2.9898); the Wald error of a new reading is 0.1929.
    line = fit_straight(*ARSENIC)
    assert crossing(line, 3, 0.90)[1:] == pytest.approx((2.8724, 2.9898), abs=5e-5)
    assert wald_error(line, 3, of_reading=True) == pytest.approx(0.1929, abs=5e-5)


def test_wald_errors_of_crystal_growth():
    # investr's test values after Graybill & Iyer 1994 p. 434: line 0.6658998, new reading 2.211698
    line = fit_straight(*CRYSTAL)
    assert wald_error(line, 5) == pytest.approx(0.6658998, rel=1e-6)
    assert wald_error(line, 5, of_reading=True) == pytest.approx(2.211698, rel=1e-6)


def test_steam_line_falls_and_still_has_an_interval():
    # Draper & Smith, Applied Regression Analysis (fit: figures from memory, recomputed); the interval is recomputed.
    x, y = pairs("steam")
    line = fit_straight(x, y)
    assert (line.intercept, line.slope) == pytest.approx((13.623, -0.0798), abs=5e-4)
    assert (line.residual_sd**2, analysis_of_variance(line)[0]) == pytest.approx((0.7923, 0.7144), abs=5e-5)
    # a loss rises: turned over, the same line meets the level turned over at the same x
    assert crossing(fit_straight(x, -y), -10, 0.95) == pytest.approx((45.384549, 39.559723, 50.049954), rel=1e-6)
    assert fieller_g(line, 0.95) == pytest.approx(0.074368, abs=5e-7)
    wald = 2.06865761 * wald_error(line, 10)  # Student t, 23 degrees, 97.5 %
    assert (45.384549 - wald, 45.384549 + wald) == pytest.approx((40.369152, 50.399946), rel=1e-6)


def test_a_noisy_flat_line_has_no_finite_interval_and_so_no_date():
    x, y = np.arange(5.0), np.array([1.0, 1.2, 0.9, 1.15, 1.0])
    found = single_trend(x, y, now=4.0, limit_db=3.0, risk=0.025, horizon=np.inf)
    assert fieller_g(fit_straight(x, y), 0.95) > 1
    assert not found.settled
    assert np.isnan([found.early, found.expected]).all()


def test_a_level_line_meets_nothing():
    found = single_trend(np.arange(3.0), np.ones(3), now=2.0, limit_db=3.0, risk=0.05, horizon=np.inf)
    assert np.isnan([found.early, found.expected]).all()


def test_a_limit_passed_before_the_last_reading_lies_in_the_past():
    estimate, low, high = crossing(fit_straight([0, 1, 2, 3], [2.0, 2.61, 3.19, 3.8]), 3.0, 0.95)
    assert 0 < low < estimate < high < 3


@pytest.mark.parametrize(
    ("x", "value", "line_interval", "reading_interval"),
    [
        # R cars (dist ~ speed): R's printed output for the reading interval at 12; the rest from memory, recomputed.
        # A list in circulation has 76.79861, 85.20957 and 108.84474 at 24: exact fractions give these.
        (12, 29.60981, (24.39514, 34.82448), (-1.749529, 60.96915)),
        (19, 57.13667, (51.82913, 62.44421), (25.761756, 88.51159)),
        (24, 76.798715, (68.387653, 85.209778), (44.752478, 108.844952)),
    ],
)
def test_prediction_intervals_of_stopping_distances(x, value, line_interval, reading_interval):
    line = fit_straight(*pairs("cars"))
    assert line.at(x) == pytest.approx(value, rel=1e-6)
    assert interval(line, x, 0.95) == pytest.approx(line_interval, rel=1e-6)
    assert interval_of_next_reading(line, x, 0.95) == pytest.approx(reading_interval, rel=1e-6)


def test_prediction_of_the_toluca_example():
    # Kutner, Nachtsheim, Neter & Li 2005, chapters 1-2; figures from memory, recomputed.
    x = "80 30 50 90 70 60 120 80 100 50 40 70 90 20 110 100 30 50 90 110 30 90 40 80 70"
    y = "399 121 221 376 361 224 546 352 353 157 160 252 389 113 435 420 212 268 377 421 273 468 244 342 323"
    line = fit_straight(np.array(x.split(), float), np.array(y.split(), float))
    assert (line.intercept, line.slope) == pytest.approx((62.37, 3.5702), abs=5e-3)
    assert line.residual_sd**2 == pytest.approx(2384, abs=0.5)
    assert (line.at(65), line.at(100)) == pytest.approx((294.4, 419.4), abs=0.05)
    # the band that is drawn about a line on its own is this interval
    half = band_standard_errors(line.readings) * line.line_se(65)
    assert (line.at(65) - half, line.at(65) + half) == pytest.approx((277.4315, 311.4264), rel=1e-6)
    assert interval_of_next_reading(line, 100, 0.9) == pytest.approx((332.2072, 506.5649), rel=1e-6)


def test_prediction_of_oxygen_purity():
    # Montgomery & Runger, Applied Statistics and Probability for Engineers, chapter 11; from memory, recomputed.
    x = ".99 1.02 1.15 1.29 1.46 1.36 .87 1.23 1.55 1.40 1.19 1.15 .98 1.01 1.11 1.20 1.26 1.32 1.43 .95"
    y = (
        "90.01 89.05 91.43 93.74 96.73 94.45 87.59 91.77 99.42 93.65 "
        "93.54 92.52 90.56 89.54 89.85 90.39 93.25 93.41 94.98 87.33"
    )
    line = fit_straight(np.array(x.split(), float), np.array(y.split(), float))
    assert (line.intercept, line.slope, line.residual_sd**2) == pytest.approx((74.283, 14.947, 1.18), abs=5e-3)
    assert interval(line, 1.0, 0.95) == pytest.approx((88.48612, 89.97547), rel=1e-6)
    assert interval_of_next_reading(line, 1.0, 0.95) == pytest.approx((86.829687, 91.631901), rel=1e-6)


@pytest.mark.parametrize(
    ("x", "value", "line_se", "reading_interval"),
    [
        # NIST/SEMATECH e-Handbook 4.5.1 (fits and standard errors from memory); all recomputed
        (25, 106.00251, 1.197616, (96.968053, 115.036964)),
        (45, 184.60532, 0.680325, (175.793946, 193.416687)),
        (70, 282.85883, 1.463061, (273.665582, 292.052074)),
    ],
)
def test_predictions_of_the_nist_pressure_line(x, value, line_se, reading_interval):
    line = fit_straight(*pairs("pressure"))
    assert (line.at(x), line.line_se(x)) == pytest.approx((value, line_se), rel=1e-6)
    assert interval_of_next_reading(line, x, 0.95) == pytest.approx(reading_interval, rel=1e-6)


LASER_TIMES = [3702, 4194, 5847, 6172, 5301, 3592, 6051, 6538, 5110, 3306, 5326, 4995, 4721, 5689, 6102]


def laser_trend(hours, percent):
    """Early at the lower end of the interval of 95 %."""
    return single_trend(hours, percent, now=0.0, limit_db=10, risk=0.025, horizon=np.inf)


def test_pseudo_failure_times_of_the_lasers():
    # Meeker & Escobar 1998, Table C.17 and chapter 13: 15 of 15 (figures from memory, recomputed), within half an hour.
    segment, hours, percent, _ = grouped("lasers")
    times = [laser_trend(hours[segment == i], percent[segment == i]).expected for i in range(15)]
    assert times == pytest.approx(LASER_TIMES, abs=0.5)
    logs = np.log(np.round(times))
    assert (logs.mean(), logs.std(ddof=1), logs.std()) == pytest.approx((8.518428, 0.214879, 0.207593), abs=1e-6)


@pytest.mark.parametrize(
    ("unit", "interval"),
    [
        ("101", (3702.035, 3639.468, 3767.788)),
        ("102", (4194.425, 4138.525, 4252.584)),
        ("110", (3306.484, 3264.982, 3349.439)),
    ],
)
def test_fieller_intervals_of_three_lasers(unit, interval):
    # recomputed from Table C.17
    segment, hours, percent, names = grouped("lasers")
    mine = segment == names.index(unit)
    found = laser_trend(hours[mine], percent[mine])
    _, _, high = crossing(fit_straight(hours[mine], percent[mine]), 10, 0.95)
    assert (found.expected, found.early, high) == pytest.approx(interval, rel=1e-6)
