"""What came of a rule, with what the pool's readings leave open: means over the draws, and 90 % intervals."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ..lives.resampling import interval
from .records import Outcome


class Spread(NamedTuple):
    """A mean over the draws of the pool's parameters, and between which ends 90 % of them lie, chance apart."""

    mean: float
    low: float
    high: float

    @classmethod
    def of(cls, halves):
        """Of values (draws, 2), each draw played twice."""
        return cls(float(np.mean(halves)), *map(float, interval(without_chance(halves))))


def without_chance(halves):
    """Means (draws,) of both halves (draws, 2), drawn towards the mean of all of them: they differ by what the readings
    leave open, which both halves share, and by the chance of finitely many cables, which they do not. As much as chance
    leaves open of the mean of all draws is left in."""
    means = halves.mean(axis=1)
    variance = means.var(ddof=1)
    if variance == 0:
        return means
    shared = max(np.cov(halves.T)[0, 1], 0.0) / variance
    return means.mean() + np.sqrt(min(shared + 1 / len(means), 1.0)) * (means - means.mean())


@dataclass(frozen=True)
class RuleAnswer:
    """A year of the whole pool under a rule. `cables`: that go out, damaged ones too; `late`: of them those that the
    rule took out after they were over; `events_over`: mats at an event with a cable over, of `events`; `readings`,
    `mats_checked`: at the bench. `more_cables`, `more_events_over`: than under the rule it is compared with."""

    cables: Spread
    late: Spread
    events_over: Spread
    events: float
    readings: float
    mats_checked: float
    more_cables: Spread
    more_events_over: Spread


def answer_of(outcome: Outcome, compared: Outcome, events):
    """RuleAnswer of an Outcome beside another of the same draws; the pool's mats go to so many `events` a year, counted
    for each mat."""
    return RuleAnswer(
        cables=Spread.of(outcome.changes),
        late=Spread.of(outcome.late),
        events_over=Spread.of(outcome.events_over),
        events=float(events),
        readings=float(outcome.readings.mean()),
        mats_checked=float(outcome.mats_checked.mean()),
        more_cables=Spread.of(outcome.changes - compared.changes),
        more_events_over=Spread.of(outcome.events_over - compared.events_over),
    )
