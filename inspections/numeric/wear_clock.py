"""Which clock does the wear follow: years, or events? Proposed to the keeper, never changed by itself."""

from dataclasses import dataclass

import numpy as np

from .mixed_model import NoFit
from .pool_fit import fit_readings
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


def compare_clocks(segment, years, events, y, length_m, *, with_length=False, sigma=None):
    """Fit the same readings by both clocks, by ML: it does not depend on a clock's unit, REML does.

    `segment`, `years`, `events`, `y`: shape (readings,), only of segments whose usage is recorded back to their
    fitting.
    """
    years, events = np.asarray(years, float), np.asarray(events, float)
    seen = len(np.unique(segment))
    if events.size == 0 or np.ptp(events) == 0 or np.ptp(years) == 0:
        return ClockComparison(float("nan"), len(years), seen)
    try:
        with np.errstate(all="ignore"):
            by_years, by_events = (
                fit_readings(segment, x, y, length_m, with_length=with_length, sigma=sigma, restricted=False)
                for x in (years, events)
            )
    except NoFit:
        return ClockComparison(float("nan"), len(years), seen)
    return ClockComparison(by_events.minus_two_log - by_years.minus_two_log, len(years), seen)
