"""Do the records tell wear by years from wear by events, and how often did their mats go?"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ..assessment.pool_fits import clock, stored_fit
from ..assessment.trend_records import fit_records
from ..models import PoolTrend
from ..numeric.wear_clock import PROPOSE_ABOVE, compare_clocks
from ..numeric.words import Clock
from ..pool_life.cable_services import Cables, read_cables
from ..trend.finding_services import MOST_COMPARED, findings

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
    """`clock`: that wear is counted by here. `difference`: twice that of the log likelihoods of years and events, by
    `segments` cables whose events are known from new; `over_both`: by how much that clock alone is better than one that
    counts both, half and half; nan where they cannot be compared. `is_told`: both are large enough to tell."""

    clock: str
    difference: float
    over_both: float
    segments: int
    is_told: bool


def clock_found(cables: Cables, on):
    """ClockFound of the fit that is stored: where the readings do not tell the clocks apart, the keeper's own.

    Wear may follow both. Then one of them alone is right at the use of this pool only, and for no other use.
    """
    own = clock(cables.state.policy)
    stored = PoolTrend.objects.filter(pk=1).only("fitted_at").first()
    compared = stored and findings(stored.fitted_at, on).clocks
    if not compared:
        return ClockFound(own, np.nan, np.nan, 0, False)
    over_both = _over_both(stored.fitted_at, on, compared.better) if compared.better else np.nan
    told = bool(over_both > PROPOSE_ABOVE)
    better = compared.better if told else own
    return ClockFound(better, abs(compared.years_minus_events), over_both, compared.segments, told)


@lru_cache(maxsize=2)
def _over_both(fitted_at, on, wear_clock):
    """Twice the log likelihood ratio of that clock alone over both half and half; kept for a fit of a day."""
    cables, fit = read_cables(on), stored_fit().model.fit
    years, events = (fit_records(cables.state, each) for each in (Clock.YEARS, Clock.EVENTS))
    usable = np.flatnonzero(years.age_known & cables.is_counted(Clock.EVENTS))
    compared = np.isin(years.readings.segment, usable[:: max(1, len(usable) // MOST_COMPARED)])
    by_years, by_events = (each.readings.take(compared) for each in (years, events))
    a_year = by_events.x.sum() / by_years.x.sum()
    both = replace(by_years, x=(by_years.x + by_events.x / a_year) / 2)
    alone = by_years if wear_clock == Clock.YEARS else by_events
    return compare_clocks(alone, both, years.length_m, with_length=fit.with_length, start=fit.theta).years_minus_events


def use_of(cables: Cables):
    """Use of the mats, by cables that were new when they came and whose events are on record since."""
    rows = np.flatnonzero(cables.is_counted(Clock.EVENTS) & (cables.events_before == 0))
    years, events = (cables.clock_at(each, rows, cables.last_on[rows]) for each in (Clock.YEARS, Clock.EVENTS))
    long = years >= LEAST_YEARS
    if np.count_nonzero(long) < FEWEST_CABLES:
        return Use(np.nan, np.nan, np.nan)
    return Use(*map(float, np.percentile(events[long] / years[long], ENDS)))
