"""Which clock does the wear follow: years, or events? Proposed to the keeper, never changed by itself."""

from dataclasses import dataclass

import numpy as np

from .mixed_equations import NoFit
from .pool_fit import fit_pool
from .words import Clock

PROPOSE_ABOVE = 6.0


@dataclass(frozen=True)
class ClockComparison:
    """`years_minus_events`: twice the difference of the maximised log likelihoods, positive where years fit better.

    nan where the count of events does not vary or a fit cannot be calculated. `better`: the clock the readings favour
    by more than 6, else None.
    """

    years_minus_events: float
    readings: int
    segments: int

    @property
    def better(self):
        if abs(self.years_minus_events) > PROPOSE_ABOVE:
            return Clock.YEARS if self.years_minus_events > 0 else Clock.EVENTS
        return None

    def proposal(self, current):
        """The other clock where the readings favour it, else None."""
        return self.better if self.better not in (None, current) else None


def compare_clocks(by_years, by_events, length_m, *, with_length=False, sigma=None, start=None):
    """Fit the same readings by both clocks, by ML: it does not depend on a clock's unit, REML does.

    `by_years`, `by_events`: FitReadings in one order, only of segments whose usage is recorded back to their fitting.
    """
    segments, count = len(np.unique(by_years.segment)), len(by_years.x)
    if not count or np.ptp(by_events.x) == 0 or np.ptp(by_years.x) == 0:
        return ClockComparison(float("nan"), count, segments)
    try:
        years, events = (
            fit_pool(
                readings, length_m, with_length=with_length, sigma=sigma, restricted=False, start=start
            ).fit.minus_two_log
            for readings in (by_years, by_events)
        )
    except NoFit:
        return ClockComparison(float("nan"), count, segments)
    return ClockComparison(events - years, count, segments)
