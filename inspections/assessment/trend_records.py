"""The readings that belong in the fit of the pool's trend, and the segments they are of."""

from dataclasses import dataclass, fields, replace

import numpy as np

from fleet.choices import FittedBasis

from ..numeric.bench_day_keys import bench_day_key
from ..numeric.calendar import DAYS_A_YEAR
from ..numeric.fit_readings import ALONE, FitReadings
from ..numeric.reference_pieces import PieceReadings
from ..numeric.words import Clock


@dataclass(frozen=True)
class PoolRecords:
    """Readings that belong in a fit, the days they were taken on, and the segments they are of.

    `pieces`: what the reference pieces of the whole pool tell of its bench days.
    """

    segment: np.ndarray
    length_m: np.ndarray
    first_on: np.ndarray
    age_known: np.ndarray
    readings: FitReadings
    day: np.ndarray
    pieces: PieceReadings

    def as_lists(self):
        """All of it as lists of numbers and days, equal where the records are."""
        own = (self.segment, self.length_m, self.first_on, self.age_known, self.day)
        readings = self.readings
        columns = (*own, readings.segment, readings.x, readings.loss_db, readings.as_new, readings.day)
        return [column.tolist() for column in columns]

    def with_those_of(self, segment_ids, other):
        """These records, with the `other` ones of these segments, and its reference pieces, in place of their own."""
        kept = ~np.isin(self.segment, segment_ids)
        read = kept[self.readings.segment]
        segments = np.concatenate([self.segment[kept], other.segment])
        order = np.argsort(segments)
        named = np.concatenate([self.segment[self.readings.segment[read]], other.segment[other.readings.segment]])
        row = np.searchsorted(segments[order], named)
        by_row = np.argsort(row, kind="stable")

        def of_segments(mine, theirs):
            return np.concatenate([mine[kept], theirs])[order]

        def of_readings(mine, theirs):
            return np.concatenate([mine[read], theirs])[by_row]

        columns = {
            field.name: of_readings(getattr(self.readings, field.name), getattr(other.readings, field.name))
            for field in fields(FitReadings)
        }
        return PoolRecords(
            segment=segments[order],
            length_m=of_segments(self.length_m, other.length_m),
            first_on=of_segments(self.first_on, other.first_on),
            age_known=of_segments(self.age_known, other.age_known),
            readings=FitReadings(**columns | {"segment": row[by_row]}),
            day=of_readings(self.day, other.day),
            pieces=other.pieces,
        )

    @property
    def is_fitted(self):
        """Mask of the readings that a fit takes in: those of segments of which the age is known."""
        return self.age_known[self.readings.segment]

    def of_rows(self, rows):
        """(readings of these segments, which count within `rows`; their days)."""
        new_row = np.full(len(self.segment), -1)
        new_row[rows] = np.arange(len(rows))
        chosen = new_row[self.readings.segment] >= 0
        readings = self.readings.take(chosen)
        return replace(readings, segment=new_row[readings.segment]), self.day[chosen]

    def leaving_out(self, left_out):
        """These records, the readings of a mask marked as left out of the fit."""
        return replace(self, readings=replace(self.readings, left_out=left_out))

    def named_left_out(self):
        """[segment's key, ISO day, loss] of each reading that is left out."""
        return [list(name) for name in self._names(np.flatnonzero(self.readings.left_out))]

    def leaving_out_named(self, names):
        """These records without what a fit left out, by `named_left_out`. Where the loss of that day is another one by
        now it was corrected, and counts until the next fit judges it."""
        if not names:
            return self
        of_segment = np.isin(self.segment, [key for key, *_ in names])[self.readings.segment]
        rows, out = np.flatnonzero(of_segment), {tuple(name) for name in names}
        mask = np.zeros(len(self.day), bool)
        mask[rows] = [name in out for name in self._names(rows)]
        return self.leaving_out(mask)

    def _names(self, rows):
        keys, days = self.segment[self.readings.segment[rows]].tolist(), self.day[rows].astype(str).tolist()
        return zip(keys, days, self.readings.loss_db[rows].tolist(), strict=True)


def fit_records(state, wear_clock):
    """PoolRecords of a state: one reading a day, the measured as-new loss at 0 unless a reading of that day stands."""
    segment, first = np.unique(state.fittings.segment, return_index=True)
    first_on, as_new = state.fittings.fitted_on[first], state.fittings.as_new_loss_db[first]
    row, fitted = _bench_readings(state.by_day, segment)
    day, instrument, loss_db = (
        column[fitted] for column in (state.by_day.day, state.by_day.instrument, state.by_day.reference_loss_db)
    )
    replaced = np.zeros(len(segment), bool)
    replaced[row[day == first_on[row]]] = True
    given = np.flatnonzero(~np.isnan(as_new) & ~replaced)
    years, none = years_since(first_on[row], day), np.zeros(len(given))
    x = years if wear_clock == Clock.YEARS else events_by(state, segment[row], day)
    rows = np.concatenate([given, row])
    order = np.argsort(rows, kind="stable")

    def column(of_register, of_bench):
        return np.concatenate([of_register, of_bench])[order]

    return PoolRecords(
        segment=segment,
        length_m=state.fittings.length_m[first],
        first_on=first_on,
        age_known=state.fittings.basis[first] != FittedBasis.NOT_LATER_THAN,
        readings=FitReadings.of(
            rows[order],
            column(none, x),
            column(as_new[given], loss_db),
            column(none == 0, np.zeros(len(row), bool)),
            day=column(np.full(len(given), ALONE), bench_day_key(day, instrument)),
            years=column(none, years),
        ),
        day=column(first_on[given], day),
        pieces=state.pieces,
    )


def _bench_readings(by_day, segment):
    """(rows in `segment`, mask) of the DayReadings in a fit: those with a number. A doubtful day speaks in the verdict
    only."""
    index = np.searchsorted(segment, by_day.segment)
    fitted = (index < len(segment)) & ~np.isnan(by_day.reference_loss_db) & ~by_day.doubtful
    fitted[fitted] &= segment[index[fitted]] == by_day.segment[fitted]
    return index[fitted], fitted


def years_since(first_on, day):
    return (day - first_on).astype(float) / DAYS_A_YEAR


def events_by(state, segment, day):
    """Events that each of these segments had been through by that day, those of the day included."""
    fittings = state.fittings
    first, last = (
        np.searchsorted(fittings.segment, segment, "left"),
        np.searchsorted(fittings.segment, segment, "right"),
    )
    rows = np.repeat(first, last - first) + _running(last - first)
    asked = np.repeat(np.arange(len(segment)), last - first)
    tomorrow = day[asked] + np.timedelta64(1, "D")
    until = np.where(np.isnat(fittings.removed_on[rows]), tomorrow, np.minimum(fittings.removed_on[rows], tomorrow))
    counted = state.logs.counted.sum_between(fittings.mat[rows], fittings.fitted_on[rows], until)
    return (fittings.events_before[first] + np.bincount(asked, counted, minlength=len(segment))).astype(float)


def _running(counts):
    return np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
