"""What the model of the pool says of one cable beside its assessment: its loss day by day, its chance on the due date,
and what its bench days added to its readings."""

from dataclasses import dataclass
from datetime import date

import numpy as np

from ...assessment.new_days import read_known
from ...assessment.pool_fits import stored_fit
from ...models import Assessment, BenchDay
from ...numeric.calendar import DAYS_A_YEAR
from ...numeric.crossings import SETTLING_MET
from ...numeric.fit_readings import FitReadings
from ...numeric.pool_model import PoolModel
from ...numeric.segment_trends import Segments, assess_segments, path_of
from ...numeric.words import Clock


@dataclass(frozen=True)
class CableTrend:
    """`readings`: its own in the fit; `left_out`: {day: loss} of those that are not, because they lie too far from the
    rest; `shifts`: {(day, instrument's key or None): BenchDay} of the days on which it was read. `row`: its
    assessment."""

    model: PoolModel | None
    row: Assessment | None
    length_m: float
    first_on: date | None
    readings: FitReadings | None
    left_out: dict
    shifts: dict

    @property
    def fit(self):
        return self.model and self.model.fit

    @property
    def alone(self):
        """There is no pool to borrow from: its own readings must give their own scatter."""
        return self.model is not None and self.model.fit is None

    @property
    def by_events(self):
        return self.model is not None and self.model.clock == Clock.EVENTS

    @property
    def per(self):
        return "event" if self.by_events else "year"

    @property
    def has_path(self):
        """A loss can be told for each day: it has a line, and the clock counts years."""
        return self.row is not None and self.row.trend_rate_db is not None and not self.by_events

    @property
    def over_from_db(self):
        """The loss from which on it counts as over: a part of what settles comes and goes, and is met beforehand."""
        return self.row.loss_limit_db - SETTLING_MET * max(self.fit.settling_db if self.fit else 0.0, 0.0)

    @property
    def chance_then(self):
        """The chance that it is over on a due date that lies ahead; None where its trend itself names that day."""
        row = self.row
        if self.fit is None or not self.has_path or not row.due_on or row.due_on <= row.assessed_on or row.due_by_trend:
            return None
        then = Segments.of(
            [self.length_m], self._years([row.due_on]), limit_db=row.loss_limit_db, accepted_risk=row.accepted_risk
        )
        chance = float(assess_segments(self.model, self.readings, then).chance_over[0])
        return None if np.isnan(chance) else chance

    def path(self, days):
        """(mean, standard deviation) of its own loss on these days, dB; alone it is its straight line."""
        if self.fit:
            return path_of(self.model, self.readings, self.length_m, self._years(days))
        row = self.row
        ahead = self._years(days) - self._years([row.trend_level_on or self.first_on])
        variance = row.trend_c00 + ahead * (2 * row.trend_c01 + ahead * row.trend_c11)
        return row.trend_level_db + row.trend_rate_db * ahead, np.sqrt(np.maximum(variance, 0.0))

    def _years(self, days):
        return np.array([(day - self.first_on).days / DAYS_A_YEAR for day in days])


def trend_of_cable(segment, row, first_on, on):
    """CableTrend of a segment first fitted on `first_on` (None: never), under the pool model last fitted."""
    fitted = stored_fit()
    return CableTrend(
        model=fitted and fitted.model,
        row=row,
        length_m=segment.length_m,
        first_on=first_on,
        readings=_readings_of(segment, fitted, on) if row and fitted and fitted.model.fit else None,
        left_out=_left_out(segment, fitted) if fitted else {},
        shifts={(day.measured_on, day.instrument_id): day for day in _bench_days_of(segment)},
    )


def _left_out(segment, fitted):
    return {date.fromisoformat(day): loss_db for key, day, loss_db in fitted.left_out if key == segment.pk}


def _readings_of(segment, fitted, on):
    """Its readings as they go into its assessment, those of days newer than the fit with the shift of their day."""
    records = read_known(on, fitted, [segment.pk]).records
    readings, _ = records.of_rows(np.searchsorted(records.segment, [segment.pk]))
    return readings


def _bench_days_of(segment):
    """Those on which it was read, of all instruments, as far as their shift is known."""
    days = BenchDay.objects.filter(measured_on__in=segment.measurements.values("measured_on"))
    return days.exclude(shift_db=None)
