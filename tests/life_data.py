"""Lives of which publications say what they tell, and pools whose lives are known because they were drawn."""

import numpy as np

from inspections.numeric.lives.records import Lives

NEVER = np.inf

# (entry, last pass, first fail) in months, of all kinds at once: ours. An own likelihood, lifelines 0.30.3 and surpyval
# 0.25 gave shape 3.40712, scale 35.42429 (to five digits)
ALL_KINDS = [
    *((0, 12, 18), (0, 24, 30), (0, 30, 36), (0, 18, 30), (0, 33, 33)),
    *[(0, 36, NEVER)] * 3,
    *((0, 24, NEVER), (0, 12, NEVER), (0, 6, NEVER), (10, 22, 28), (14, 30, 36), (20, 36, NEVER), (8, 20, NEVER)),
    (0, 0, 20),
]

# Fay & Shaw 2010 (Journal of Statistical Software 36(2)), table 2
FAY_SHAW = [(2, 3), (5, 6), (1, 7), (1, 7), (9, 12), (8, 10), (10, 13)]

# the same paper: data of Finkelstein & Wolfe 1985, group Rad (46 rows); the last visit within, the first over
RAD = (
    "0-5 0-7 0-8 4-11 5-11 5-12 6-10 7-14 7-16 11-15 11-18 15- 17-25 17-25 17- 18- 19-26 19-35 22- 24- 24- 25-37 26-40 "
    "27-34 32- 33- 34- 36-44 36-48 36- 36- 37-44 37- 37- 37- 38- 40- 45- 46- 46- 46- 46- 46- 46- 46- 46-"
)

# Nelson 1982, p. 415, as the documentation of SAS/QC has it: months at the inspections, parts first found cracked at
# each; 73 of 167 were never
CRACKED_MONTHS = [6.12, 19.92, 29.64, 35.40, 39.72, 45.24, 52.32, 63.48]
CRACKED = [5, 16, 12, 18, 18, 2, 6, 17]
NEVER_CRACKED = 73

# Nelson 1982, data `turbine` of the package survival: wheels each inspected once, at so many hundred hours; cracked
WHEEL_HOURS = [4, 10, 14, 18, 22, 26, 30, 34, 38, 42, 46]
WHEELS = [39, 53, 33, 73, 30, 39, 42, 13, 34, 40, 36]
WHEELS_CRACKED = [0, 4, 2, 7, 5, 9, 9, 6, 22, 21, 21]

# bearing cages, Abernethy and others 1983 (AFWAL-TR-83-2079), and Meeker & Escobar 1998: hours
CAGES_FAILED = [230, 334, 423, 990, 1009, 1510]
CAGES_RUNNING = {
    **{50: 288, 150: 148, 250: 124, 350: 111, 450: 106, 550: 99, 650: 110, 750: 114, 850: 119, 950: 127},
    **{1050: 123, 1150: 93, 1250: 47, 1350: 41, 1450: 27, 1550: 11, 1650: 6, 1850: 1, 2050: 2},
}

# fans of diesel generators, Nelson 1982, data `genfan` of the package survival: hours, 12 of 70 failed
FANS_FAILED = [450, 1150, 1150, 1600, 2070, 2070, 2080, 3100, 3450, 4600, 6100, 8750]
FANS_RUNNING = {
    **{460: 1, 1560: 1, 1660: 1, 1850: 5, 2030: 3, 2200: 1, 3000: 4, 3200: 1, 3750: 2, 4150: 4, 4300: 4, 4850: 4},
    **{5000: 3, 6100: 3, 6300: 1, 6450: 2, 6700: 1, 7450: 1, 7800: 2, 8100: 2, 8200: 1, 8500: 3, 8750: 2, 9400: 1},
    **{9900: 1, 10100: 3, 11500: 1},
}

# documentation of the package `reliability`: hours, most of them still running
MANY_RUNNING_FAILED = [5248, 7454, 16890, 17200, 38700, 45000, 49390, 69040, 72280, 131900]
MANY_RUNNING = [
    *(3961, 4007, 4734, 6054, 7298, 10190, 23060, 27160, 28690, 37100, 40060, 45670, 53000, 67000, 69630),
    *(77350, 78470, 91680, 105700, 106300, 150400),
]

# 6-MP: Freireich and others 1963, data `drug6mp` of KMsurv: weeks
TRIAL_FAILED = [6, 6, 6, 7, 10, 13, 16, 22, 23]
TRIAL_RUNNING = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]

# NIST/SEMATECH e-Handbook 8.2.2.1: hours, ten more ran until 500
NIST_FAILED = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]


def all_kinds():
    entry, low, high = np.array(ALL_KINDS, float).T
    return Lives.of(low, high, entry)


def fay_shaw():
    return Lives.of(*np.array(FAY_SHAW, float).T)


def rad():
    return Lives.of(*np.array([[float(end or NEVER) for end in row.split("-")] for row in RAD.split()]).T)


def cracked_parts():
    before = [0, *CRACKED_MONTHS[:-1]]
    low = np.repeat([*before, CRACKED_MONTHS[-1]], [*CRACKED, NEVER_CRACKED])
    return Lives.of(low, np.repeat([*CRACKED_MONTHS, NEVER], [*CRACKED, NEVER_CRACKED]))


def wheels():
    """(Lives, the hours of each)"""
    sound = np.array(WHEELS) - WHEELS_CRACKED
    low = np.concatenate([np.repeat(WHEEL_HOURS, sound), np.zeros(sum(WHEELS_CRACKED))])
    high = np.concatenate([np.full(sound.sum(), NEVER), np.repeat(WHEEL_HOURS, WHEELS_CRACKED)])
    return Lives.of(low, high)


def with_running(failed, running):
    """Lives that are known to the day, and others that go on."""
    failed, running = np.array(failed, float), np.array(running, float)
    high = np.append(failed, np.full(len(running), NEVER))
    return Lives.of(np.append(failed, running), high)


def bearing_cages():
    return with_running(CAGES_FAILED, each_as_often(CAGES_RUNNING))


def fans():
    return with_running(FANS_FAILED, each_as_often(FANS_RUNNING))


def each_as_often(counts):
    return np.repeat(list(counts), list(counts.values()))


def drawn_pool(seed, *, mats=40, cables=6, shape=2.5, scale=4.0, alike=0.15, changed_at=3.5, every=0.5):
    """Lives in years of cables that are checked about `every` year and all changed at an age; mats differ by `alike`
    (standard deviation of the logarithm of their scale), about a scale that holds for the mean of all."""
    rng = np.random.default_rng(seed)
    mat = np.repeat(np.arange(mats), cables)
    own = scale * np.exp(alike * rng.standard_normal(mats))[mat]
    ends = own * rng.weibull(shape, len(mat))
    checks = np.cumsum(rng.uniform(0.5 * every, 1.5 * every, (len(mat), int(4 * changed_at / every))), axis=1)
    checks = np.where(checks <= changed_at, checks, np.nan)
    low = np.nanmax(np.where(checks < ends[:, None], checks, 0.0), axis=1)
    high = np.nanmin(np.where(checks >= ends[:, None], checks, NEVER), axis=1)
    return Lives.of(low, high, cluster=mat)


def entered_late(seed):
    """Eight mats of six cables that are watched from an age of up to a year on, to hundredths of a year."""
    lives = drawn_pool(seed, mats=8, cables=6, every=0.8)
    entry = np.minimum(lives.low, np.random.default_rng(seed).uniform(0, 1, len(lives))).round(2)
    low = lives.low.round(2)
    lives = Lives.of(low, np.maximum(lives.high.round(2), low + 0.01), entry)
    return lives.take((lives.low > lives.entry) | lives.is_over)
