"""What the pool page shows of the fitted trend, and what a keeper can do for it."""

from dataclasses import dataclass
from datetime import date

import numpy as np

from ..assessment.policy_in_force import current_policy
from ..models import BenchDay, Measurement, PoolTrend
from ..numeric.paired_differences import PairedDifference
from ..numeric.pool_model import PoolModel
from ..numeric.words import Clock
from .cleaning_selectors import cleaning_difference
from .finding_services import Influential, Suspect, findings
from .length_selectors import CablePoints, LengthRow, MeanLine, cable_points, length_rows, mean_lines
from .to_do_selectors import ToDo, to_do

# rows of the table of bench days; there is a page for all of them
MOST_DAYS = 60


@dataclass(frozen=True)
class PoolTrendPage:
    """`newer_readings`: entered or changed since the fit; they count for their own segments, not yet for the pool.

    `segments_compared`: how many the clocks were compared on. `suspect`: the value that probably spoils the fit.
    `left_out`: readings that are not in it. `days`: bench days of which the shift is known, newest first. `cleaning`:
    what it took away at the bench.
    """

    model: PoolModel
    fitted_on: date
    newer_readings: int
    to_do: ToDo
    suspect: Suspect | None
    cables: CablePoints | None = None
    lengths: tuple[LengthRow, ...] = ()
    lines: tuple[MeanLine, ...] = ()
    days: tuple[BenchDay, ...] = ()
    influential: tuple[Influential, ...] = ()
    proposal: str | None = None
    years_minus_events: float | None = None
    segments_compared: int = 0
    left_out: int = 0
    cleaning: PairedDifference | None = None

    @property
    def fit(self):
        return self.model.fit

    @property
    def per(self):
        return "event" if self.model.clock == Clock.EVENTS else "year"

    @property
    def has_to_do(self):
        """There is something that a person can do for it."""
        of_fit = self.fit and (self.to_do.rate_not_own or self.fit.at_boundary)
        found = (self.suspect, self.newer_readings, self.to_do.again, self.influential, self.to_do.similar_due, of_fit)
        return any(found) or bool(self.proposal or self.named_days)

    @property
    def newest_days(self):
        """As many as its table shows."""
        return self.days[:MOST_DAYS]

    @property
    def named_days(self):
        """Those that read far higher or lower than bench days of this pool do; the newest first."""
        return tuple(day for day in self.days if day.reads_far_off(self.fit.bench_day_sd_db))


def pool_trend_page(on):
    """PoolTrendPage as of the stored fit; None before the first."""
    stored = PoolTrend.objects.filter(pk=1).first()
    if stored is None:
        return None
    model, found = PoolModel.from_json(stored.model), findings(stored.fitted_at, on)
    known = {
        "model": model,
        "fitted_on": stored.fitted_on,
        "newer_readings": Measurement.objects.changed_since(stored.fitted_at).count(),
        "to_do": to_do(),
        "suspect": found.suspect,
    }
    if model.fit is None:
        return PoolTrendPage(**known)
    policy, left_out = current_policy(), [segment for segment, *_ in stored.left_out]
    cables = cable_points(model.fit, model.clock, left_out, on)
    return PoolTrendPage(
        **known,
        cables=cables,
        lengths=length_rows(model.fit, model.clock, cables, policy),
        lines=tuple(mean_lines(model.fit, model.clock, policy)),
        days=tuple(BenchDay.objects.exclude(shift_db=None).newest_first().select_related("instrument")),
        influential=found.influential,
        proposal=found.clocks.proposal(model.clock),
        years_minus_events=None if np.isnan(found.clocks.years_minus_events) else found.clocks.years_minus_events,
        segments_compared=found.clocks.segments,
        left_out=len(left_out),
        cleaning=cleaning_difference(on),
    )


def newer_readings():
    """How many readings have been entered or changed since the pool was fitted; 0 before the first fit."""
    fitted_at = PoolTrend.objects.filter(pk=1).values_list("fitted_at", flat=True).first()
    return Measurement.objects.changed_since(fitted_at).count() if fitted_at else 0
