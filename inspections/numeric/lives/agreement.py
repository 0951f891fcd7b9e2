"""Do lives as they were observed agree with a curve that was calculated apart from them?

With H = -ln(1 - F) of the calculated share over F, lives under the curve (e^more H^(e^late), by score tests of two
directions): *more* above 0 where more go over than calculated, *late* above 0 where the early ones go later and the
late ones sooner. Nothing is assumed of what the true curve looks like; a curve that is right gives no more than chance.
Cables of a mat live alike: variances are widened by what clusters add to single lives (Rao & Scott 1992, Biometrics 48,
577-585, the design effect; from memory), never narrowed. Where curve and lives come from the same readings, chance
moves both alike, and the test finds less than it would otherwise, never more.
"""

from dataclasses import dataclass

import numpy as np

# two directions are looked at, and the smaller P-value counts twice
DIRECTIONS = 2
# information of so many failures, else nothing is said
ENOUGH_INFORMATION = 3.0
DISAGREE_BELOW = 0.05
# that nothing disagrees says little where it might be so many times as often, or as seldom; our choice
CLOSE_TIMES = 2.0
STEP, WIDE_STEP = 1e-3, 1e-2
LEAST = 1e-12
# of ln(how often over against what is calculated)
FARTHEST = 6.0


@dataclass(frozen=True)
class Agreement:
    """`times`: how many times as often as calculated lives went over, with its 90 % interval (`low`, `high`); `more`,
    `late`: the two standard scores; `p_value`: how often a right curve would differ as much. nan where too few went
    over, or should have, to tell."""

    lives: int
    times: float
    low: float
    high: float
    more: float
    late: float
    p_value: float

    @property
    def tells(self):
        return not np.isnan(self.p_value)

    @property
    def disagrees(self):
        return self.tells and self.p_value < DISAGREE_BELOW

    @property
    def is_close(self):
        """Nothing disagrees, and enough went over for that to say something."""
        return self.tells and not self.disagrees and max(self.high, 1 / self.low) <= CLOSE_TIMES


def agreement(lives, at_entry, at_low, at_high):
    """Agreement of Lives with the calculated shares over at their ends; arrays (lives,), at an end that is inf 1.

    A life whose age is exact has no part: it is compared by densities, which a share does not have.
    """
    from scipy.special import ndtr

    used = ~lives.is_exact & np.isfinite(at_entry + at_low + at_high)
    hazards = _Hazards.of(*(share[used] for share in (at_entry, at_low, at_high)), lives.is_over[used])
    cluster = lives.cluster[used]
    more, information, widened = _score(lambda step: hazards.log_likelihood(step, 0.0), cluster)
    if information < ENOUGH_INFORMATION:
        return Agreement(int(used.sum()), *[np.nan] * 6)
    late, *_ = _score(lambda step: hazards.log_likelihood(0.0, step), cluster)
    best, error = _best(hazards, widened)
    times = np.exp([best, best - 1.645 * error, best + 1.645 * error])
    p_value = min(1.0, DIRECTIONS * 2 * float(ndtr(-max(abs(more), abs(late)))))
    return Agreement(int(used.sum()), *map(float, times), float(more), float(late), p_value)


@dataclass(frozen=True)
class _Hazards:
    """Logarithms of the calculated H at the ends; `low` is -inf where H is nothing, `high` inf where never over."""

    entry: np.ndarray
    low: np.ndarray
    high: np.ndarray

    @classmethod
    def of(cls, at_entry, at_low, at_high, is_over):
        with np.errstate(divide="ignore"):
            entry, low, high = (
                np.log(-np.log1p(-np.clip(share, 0.0, 1 - LEAST))) for share in (at_entry, at_low, at_high)
            )
        # where the calculated curve holds a span for impossible, it is as unlikely as can be told
        return cls(entry, low, np.where(is_over, np.maximum(high, np.logaddexp(low, np.log(LEAST))), np.inf))

    def log_likelihood(self, more, late):
        """Of each life."""
        entry, low, high = (np.exp(more + np.exp(late) * each) for each in (self.entry, self.low, self.high))
        return entry - low + np.log(-np.expm1(low - high))


def _score(log_likelihood, cluster):
    """(standard score, information, what clusters widen the variance by) of one direction at none, by differences.

    The information is the greater one of what the curve expects and what the lives themselves show.
    """
    below, there, above = (log_likelihood(step) for step in (-STEP, 0.0, STEP))
    each, bent = (above - below) / (2 * STEP), float((2 * there - below - above).sum()) / STEP**2
    _, row = np.unique(cluster, return_inverse=True)
    alone, together = float((each**2).sum()), float((np.bincount(row, each) ** 2).sum())
    information, widened = max(bent, alone), max(1.0, together / max(alone, LEAST))
    return float(each.sum()) / np.sqrt(max(information * widened, LEAST)), information, widened


def _best(hazards, widened):
    """(the logarithm of how many times as often lives went over, its standard error)."""
    from scipy.optimize import minimize_scalar

    def total(more):
        return float(hazards.log_likelihood(more, 0.0).sum())

    best = float(minimize_scalar(lambda more: -total(more), bounds=(-FARTHEST, FARTHEST), method="bounded").x)
    bent = (2 * total(best) - total(best - WIDE_STEP) - total(best + WIDE_STEP)) / WIDE_STEP**2
    return best, np.sqrt(widened / max(bent, LEAST))
