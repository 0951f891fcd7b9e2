"""What the pool's records and its keeper say of costs: money, work, use, and how often somebody looks."""

from dataclasses import dataclass

import numpy as np

from ..choices import COSTS, Setting
from ..numeric.calendar import DAYS_A_YEAR

# how often cables are read is told by so many days, two years
LOOKED_BACK = np.timedelta64(730, "D")
MINUTES = 60.0


@dataclass(frozen=True)
class Work:
    """What the keeper said; None: nothing yet. Minutes, money an hour, and money an event, at least and at most."""

    minutes_per_change: float | None
    minutes_per_mat: float | None
    hour_price: float | None
    event_cost_low: float | None
    event_cost_high: float | None

    @property
    def missing(self) -> list[Setting]:
        return [setting for setting in COSTS if getattr(self, setting.name) is None]

    @property
    def per_change(self):
        return self.minutes_per_change * self.hour_price / MINUTES

    @property
    def per_mat(self):
        return self.minutes_per_mat * self.hour_price / MINUTES

    @property
    def event_costs(self):
        return np.array([self.event_cost_low, self.event_cost_high])


@dataclass(frozen=True)
class Together:
    """`cables` that were taken out of mats on so many `days`, a day of each mat counted."""

    cables: int
    days: int

    @property
    def mean(self):
        """How many share the work of opening their mat; 1 where none was ever changed."""
        return self.cables / self.days if self.days else 1.0


@dataclass(frozen=True)
class Looks:
    """`readings` that left no doubt, in `cable_years` of the last two."""

    readings: int
    cable_years: float

    @property
    def a_year(self):
        return self.readings / self.cable_years if self.cable_years else 0.0


def work_of(policy):
    return Work(*(policy.value(setting.name) for setting in COSTS))


def changed_together(fittings, day):
    """Together of all that was taken out by that day."""
    gone = fittings.removed_on <= day
    opened = np.unique(np.stack([fittings.mat[gone], fittings.removed_on[gone].astype(np.int64)]), axis=1)
    return Together(int(gone.sum()), opened.shape[1])


def looks_at(cables, checks):
    """Looks of Cables by their Checks, suspected ones included: whoever finds one over takes it out."""
    end, start = cables.state.day, cables.state.day - LOOKED_BACK
    watched = np.maximum((np.minimum(cables.last_on, end) - np.maximum(cables.first_on, start)).astype(float), 0)
    counted = (checks.day > cables.first_on[checks.row]) & (checks.day > start)
    return Looks(int(counted.sum()), float(watched.sum() / DAYS_A_YEAR))


def events_by_design(state):
    """{design: events a year of each of its mats with a cable in it, on average, by what the last year had}."""
    rows = np.unique(state.mat, return_index=True)[1]
    mat, design = state.mat[rows], state.fittings.design[state.current][rows]
    events = state.logs.counted.of_last_year(mat, state.day)
    return {key: float(events[design == key].mean()) for key in np.unique(design).tolist()}
