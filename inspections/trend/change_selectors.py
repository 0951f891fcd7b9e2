"""Cables that were changed: what the old one lost last, and the new one first."""

from dataclasses import dataclass
from datetime import date
from statistics import median

import numpy as np
from django.db.models import Exists, OuterRef, Subquery

from fleet.models import Fitting

from ..models import Measurement
from ..numeric.decibels import reference_loss_db

# the newest; a page shows no more, however many there were
MOST = 400


@dataclass(frozen=True)
class Change:
    """`out_db`, `in_db`: reference losses, None where nobody measured. `no_signal`: of the old one."""

    removed_on: date
    mat: str
    position: int
    length_m: float
    out_db: float | None
    no_signal: bool
    in_db: float | None

    @property
    def old_was_read(self):
        return self.no_signal or self.out_db is not None

    def was_over(self, limit_db):
        return self.no_signal or (self.out_db is not None and self.out_db > limit_db)


@dataclass(frozen=True)
class Changes:
    """The newest `MOST` changes, the oldest first; `total`: all that there were."""

    rows: tuple[Change, ...]
    total: int
    limit_db: float

    @property
    def read(self):
        return [change for change in self.rows if change.old_was_read]

    @property
    def over(self):
        return [change for change in self.rows if change.was_over(self.limit_db)]

    @property
    def pairs(self):
        """Both were measured, in numbers."""
        return [change for change in self.rows if change.out_db is not None and change.in_db is not None]

    @property
    def gained_db(self):
        """By how much less the new cable lost, the median of `pairs`; None without any."""
        return median([change.out_db - change.in_db for change in self.pairs]) if self.pairs else None

    @property
    def no_better(self):
        """The new cable lost as much as the old one, or more."""
        return [change for change in self.pairs if change.in_db >= change.out_db]


def changes_of_cables(on, policy):
    """`Changes` by that day; four queries, however many there were. A cable that went on elsewhere was not changed."""
    fittings = _changed(on)
    rows = list(fittings.order_by("-removed_on", "-pk")[:MOST])
    old = _losses_db([row.last_reading for row in rows], policy.value("reference_mhz"))
    new = _losses_db([row.first_reading for row in rows], policy.value("reference_mhz"))
    changes = (_change(row, old.get(row.last_reading), new.get(row.first_reading)) for row in reversed(rows))
    return Changes(tuple(changes), fittings.count() if len(rows) == MOST else len(rows), policy.value("loss_limit_db"))


def _changed(on):
    """Fittings that ended with a cable that was withdrawn, in whose place there is another one."""
    later = Fitting.objects.filter(segment=OuterRef("segment"), fitted_on__gte=OuterRef("removed_on"))
    into = Fitting.objects.filter(mat=OuterRef("mat"), position=OuterRef("position"))
    into = into.filter(fitted_on__gte=OuterRef("removed_on"), fitted_on__lte=on).exclude(pk=OuterRef("pk"))
    into = into.order_by("fitted_on", "pk")
    read = Measurement.objects.valid_on(on).filter(doubt_reason="", go_no_go="")
    last = read.filter(segment=OuterRef("segment"), measured_on__lte=OuterRef("removed_on"))
    first = read.filter(segment=OuterRef("new_segment"), measured_on__gte=OuterRef("new_fitted_on"))
    ended = Fitting.objects.filter(removed_on__lte=on, segment__withdrawn_on__isnull=False)
    ended = ended.exclude(Exists(later.exclude(pk=OuterRef("pk")))).select_related("segment", "mat")
    return ended.annotate(
        new_segment=Subquery(into.values("segment")[:1]),
        new_as_new_db=Subquery(into.values("segment__as_new_loss_db")[:1]),
        new_fitted_on=Subquery(into.values("fitted_on")[:1]),
        last_reading=Subquery(last.order_by("-measured_on", "-repeat").values("pk")[:1]),
        first_reading=Subquery(first.order_by("measured_on", "repeat").values("pk")[:1]),
    ).filter(new_segment__isnull=False)


def _losses_db(ids, reference_mhz):
    """{reading: (reference loss in dB or None, whether it was *no signal*)}"""
    readings = list(Measurement.objects.filter(pk__in=[key for key in ids if key]))
    shown = [(reading.cable_loss_db, reading.frequency_mhz, reading.temperature_c) for reading in readings]
    columns = np.array(shown, dtype=float).reshape(-1, 3).T
    losses_db = reference_loss_db(*columns, reference_mhz).tolist()
    return {
        reading.pk: (None if np.isnan(loss_db) else loss_db, reading.no_signal)
        for reading, loss_db in zip(readings, losses_db, strict=True)
    }


def _change(row, old, new):
    out_db, no_signal = old or (None, False)
    in_db = new[0] if new else row.new_as_new_db
    return Change(row.removed_on, row.mat.number, row.position, row.segment.length_m, out_db, no_signal, in_db)
