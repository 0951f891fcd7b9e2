"""Do the records tell wear by years from wear by events, and how often did their mats go?"""

from dataclasses import dataclass

import numpy as np

from ..assessment.pool_fits import clock
from ..models import PoolTrend
from ..numeric.words import Clock
from ..pool_life.cable_services import Cables
from ..trend.finding_services import findings

# a year or longer in use: of less the number of events a year tells the season
LEAST_YEARS = 1.0
# nine cables in ten lie between
ENDS = (5, 50, 95)
# fewer cables do not tell how often mats go
FEWEST_CABLES = 5
# a mat that goes monthly is seen at 13 in a year, too
NEAR = 1.1


@dataclass(frozen=True)
class Use:
    """Events a year of the mats that cables were in: nine cables in ten between `low` and `high`; nan: not known."""

    low: float
    usual: float
    high: float

    @property
    def is_known(self):
        return not np.isnan(self.usual)

    def holds(self, clock, events_a_year):
        """A limit by that clock may be given to mats that go so often. What wear owes to the other clock is in it as at
        the use of this pool: by events it is safe for who goes more often, by years for who goes less often."""
        if not self.is_known:
            return False
        return events_a_year >= self.low / NEAR if clock == Clock.EVENTS else events_a_year <= self.high * NEAR


@dataclass(frozen=True)
class ClockFound:
    """`clock`: that the wear is counted by here. `difference`: twice that of the log likelihoods of both clocks, by
    `segments` cables whose events are known from new; nan where they cannot be compared. `is_told`: large enough to
    tell them apart."""

    clock: str
    difference: float
    segments: int
    is_told: bool


def clock_found(cables: Cables, on):
    """ClockFound of the fit that is stored: where the readings do not tell the clocks apart, the keeper's own."""
    own = clock(cables.state.policy)
    stored = PoolTrend.objects.filter(pk=1).only("fitted_at").first()
    compared = stored and findings(stored.fitted_at, on).clocks
    if not compared:
        return ClockFound(own, np.nan, 0, False)
    told = compared.better is not None
    return ClockFound(compared.better or own, abs(compared.years_minus_events), compared.segments, told)


def use_of(cables: Cables):
    """Use of the mats, by cables that were new when they came and whose events are on record since."""
    rows = np.flatnonzero(cables.is_counted(Clock.EVENTS) & (cables.events_before == 0))
    years, events = (cables.clock_at(each, rows, cables.last_on[rows]) for each in (Clock.YEARS, Clock.EVENTS))
    long = years >= LEAST_YEARS
    if np.count_nonzero(long) < FEWEST_CABLES:
        return Use(np.nan, np.nan, np.nan)
    return Use(*map(float, np.percentile(events[long] / years[long], ENDS)))
