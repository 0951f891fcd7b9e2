"""What is due, and when: every fitted segment assessed from all that is known of it (design section 4).

Reads columns, computes on arrays, writes one `Assessment` row per segment fitted in a mat in service.
"""

from dataclasses import dataclass, fields

import numpy as np
from django.db import transaction
from django.db.models import F

from ..choices import SETTINGS, Standing, Urgency
from ..models import Assessment, PoolState
from ..numeric.calendar import NO_DAY, add_years
from ..numeric.day_readings import group_days
from ..numeric.decibels import reference_loss_db
from ..numeric.due import UsageLogs, earliest, events_cause, measure_because, standing
from ..numeric.verdicts import verdict
from ..selectors.policy import current_policy
from ..selectors.wear import NOT_LATER_THAN, Fittings, read_cable_faults, read_fittings, read_readings, read_usage

BATCH = 2_000
# more than this many segments at a time are assessed in pieces: a query names each of them
PIECE = 5_000


class NewerChanges(Exception):
    """Records changed while the pool was being assessed; assess again."""


def assessments(on, segment_ids=None):
    """Unsaved `Assessment` rows of these segments (None: all) as of `on`, by segment."""
    policy = current_policy()
    fittings = read_fittings(on, segment_ids)
    usage = read_usage(None if segment_ids is None else np.unique(fittings.mat).tolist())
    return _Assessing(on, policy, fittings, usage, segment_ids).rows()


def reassess(segment_ids, *, on):
    """Assess these segments (None: the whole pool) again, in the caller's transaction."""
    _count_change()
    if segment_ids is None:
        return _store(assessments(on), on, replace_all=True)
    ids = sorted(set(segment_ids))
    for start in range(0, len(ids), PIECE):
        piece = ids[start : start + PIECE]
        Assessment.objects.filter(segment__in=piece).delete()
        _store(assessments(on, piece), on)


def assess_pool(on):
    """Assess all, reading outside the transaction that writes; returns the number of segments assessed."""
    for _ in range(5):
        changes = _state().changes
        rows = assessments(on)
        try:
            with transaction.atomic():
                if not PoolState.objects.filter(pk=1, changes=changes).update(assessed_on=on):
                    raise NewerChanges
                _store(rows, on, replace_all=True)
            return len(rows)
        except NewerChanges:
            continue
    with transaction.atomic():
        reassess(None, on=on)
    return Assessment.objects.count()


def ensure_assessed(on):
    """Bring assessments of an earlier day to `on`: as days pass the list stays right without anybody's doing."""
    if _state().assessed_on != on or Assessment.objects.stale(on).exists():
        assess_pool(on)


def on_wear_changed(sender, segment_ids, on, **kwargs):
    reassess(segment_ids, on=on)


def _state():
    return PoolState.objects.get_or_create(pk=1)[0]


def _count_change():
    if not PoolState.objects.filter(pk=1).update(changes=F("changes") + 1):
        PoolState.objects.get_or_create(pk=1, defaults={"changes": 1})


def _store(rows, on, replace_all=False):
    if replace_all:
        Assessment.objects.all().delete()
        PoolState.objects.filter(pk=1).update(assessed_on=on)
    Assessment.objects.bulk_create(rows, batch_size=BATCH)


@dataclass(frozen=True)
class _Newest:
    """Newest comparable reading of each assessed segment; NaT and NaN without one."""

    measured_on: np.ndarray
    loss_db: np.ndarray
    reference_loss_db: np.ndarray
    uncertainty_db: np.ndarray
    no_through: np.ndarray
    doubtful: np.ndarray


class _Assessing:
    """One assessment of a set of segments: each cause as a column, then the standing, then the rows."""

    def __init__(self, on, policy, fittings, usage, segment_ids):
        self.on, self.day, self.policy = on, np.datetime64(on, "D"), policy
        self.usage, self.segment_ids = usage, segment_ids
        mats, dense = np.unique(np.concatenate([fittings.mat, usage.mat]), return_inverse=True)
        self.fittings = _with_mats(fittings, dense[: len(fittings.mat)])
        self.current = np.flatnonzero(fittings.in_service)
        self.mat_ids = fittings.mat[self.current]
        self.logs = UsageLogs.of(
            dense[len(fittings.mat) :], usage.starts_on, usage.ends_on, usage.planned, usage.counts_for, self.day
        )
        self.segment = self.fittings.segment[self.current]
        self.mat = self.fittings.mat[self.current]

    def rows(self):
        columns = {**self._age(), **self._events(), **self._loss(), **self._damage()}
        columns |= self._standing(columns)
        columns |= {
            "segment_id": self.segment.tolist(),
            "mat_id": self.mat_ids.tolist(),
            "position": self.fittings.position[self.current].tolist(),
        }
        names = list(columns)
        return [
            Assessment(assessed_on=self.on, **dict(zip(names, values, strict=True)))
            for values in zip(*(_plain(column) for column in columns.values()), strict=True)
        ]

    def _per_design(self, name):
        return self._looked_up(name, self.fittings.design[self.current], lambda i: self.policy.value(name, design_id=i))

    def _looked_up(self, name, ids, value_of):
        kind = np.int64 if SETTINGS[name].whole else float
        known, at = np.unique(ids, return_inverse=True)
        return np.array([value_of(i) for i in known.tolist()], dtype=kind)[at] if len(known) else np.zeros(0, kind)

    def _first(self):
        return np.searchsorted(self.fittings.segment, self.segment)

    def _age(self):
        first = self._first()
        limit_years = self._per_design("age_limit_years")
        due_on = add_years(self.fittings.fitted_on[first], limit_years)
        return {"age_due_on": due_on, "age_basis": self.fittings.basis[first], "age_limit_years": limit_years}

    def _events(self):
        limit = self._per_design("event_limit")
        cause = events_cause(self.fittings, self.current, self.logs, limit, self.day)
        return {
            "event_count": cause.count,
            "event_limit": limit,
            "not_confirmed": cause.not_confirmed,
            "events_due_on": cause.due_on,
            "events_basis": cause.basis,
        }

    def _loss(self):
        newest = self._newest_readings()
        limit_db = self._per_design("loss_limit_db")
        verdicts = verdict(newest.reference_loss_db, newest.uncertainty_db, limit_db)
        verdicts = np.where(newest.no_through, "over", verdicts)
        return {
            "measured_on": newest.measured_on,
            "loss_db": newest.loss_db,
            "reference_loss_db": newest.reference_loss_db,
            "loss_uncertainty_db": newest.uncertainty_db,
            "loss_limit_db": limit_db,
            "verdict": verdicts,
            "loss_due_on": np.where(verdicts == "over", newest.measured_on, NO_DAY),
            "measure_because": self._measure(verdicts, newest),
        }

    def _newest_readings(self):
        raw = read_readings(self.on, self.segment_ids)
        assumed_db = self.policy.value("reading_uncertainty_db")
        brought = reference_loss_db(
            raw.loss_db, raw.frequency_mhz, raw.temperature_c, self.policy.value("reference_mhz")
        )
        uncertainty_db = np.where(np.isnan(raw.uncertainty_db), assumed_db, raw.uncertainty_db)
        by_day = group_days(
            raw.segment, raw.day, raw.repeat, raw.after_cleaning, raw.loss_db, brought, uncertainty_db,
            raw.no_through, raw.doubtful,
        )  # fmt: skip
        return _newest_of(self.segment, by_day)

    def _measure(self, verdicts, newest):
        depot = self.fittings.depot[self.current]
        bench = self._looked_up("has_bench", depot, lambda i: self.policy.has_bench(i or None)).astype(bool)
        first_on = self.fittings.fitted_on[self._first()]
        again = self._per_design("measure_again_months")
        return measure_because(verdicts, newest.doubtful, bench, newest.measured_on, first_on, again, self.day)

    def _damage(self):
        due_on = np.full(len(self.segment), NO_DAY)
        place = np.full(len(self.segment), "", dtype=object)
        at = {segment: row for row, segment in enumerate(self.segment.tolist())}
        for segment, reported_on, where in read_cable_faults(self.on, self.segment_ids):
            row = at.get(segment)
            if row is not None and np.isnat(due_on[row]):
                due_on[row], place[row] = np.datetime64(reported_on, "D"), where
        return {"damage_due_on": due_on, "damage_place": place}

    def _standing(self, columns):
        due_on, cause = earliest(
            age=columns["age_due_on"],
            events=columns["events_due_on"],
            loss=columns["loss_due_on"],
            damage=columns["damage_due_on"],
        )
        usage_row = self.logs.first_planned_from(self.mat, due_on)
        age_unknown = (columns["age_basis"] == NOT_LATER_THAN) & np.isnat(columns["measured_on"])
        urgency = standing(
            due_on, usage_row, columns["measure_because"], age_unknown, self.day, self.policy.value("look_ahead_days")
        )
        return {
            "due_on": due_on,
            "cause": cause,
            "urgency": urgency,
            "standing": _WORDS[urgency],
            "before_event_id": self._event_of(usage_row),
            "urgent_event_on": np.where(urgency == Urgency.CHANGE_BEFORE, self._start_of(usage_row), NO_DAY),
        }

    def _event_of(self, usage_row):
        return [self.usage.event[row].item() if row >= 0 else None for row in usage_row.tolist()]

    def _start_of(self, usage_row):
        starts = np.append(self.usage.starts_on, NO_DAY)
        return starts[usage_row]


_WORDS = np.array(["", *(Standing(u.label).value for u in Urgency)], dtype=object)


def _with_mats(fittings, dense_mat):
    return Fittings(**{f.name: getattr(fittings, f.name) for f in fields(fittings)} | {"mat": dense_mat})


def _newest_of(segment, by_day):
    rows = by_day.newest()
    found = np.searchsorted(by_day.segment[rows], segment) if len(rows) else np.zeros(len(segment), int)
    inside = np.minimum(found, max(len(rows) - 1, 0))
    known = by_day.segment[rows][inside] == segment if len(rows) else np.zeros(len(segment), bool)

    def pick(column, without):
        return np.where(known, column[rows][inside], without) if len(rows) else np.full(len(segment), without)

    return _Newest(
        measured_on=pick(by_day.day, NO_DAY),
        loss_db=pick(by_day.loss_db, np.nan),
        reference_loss_db=pick(by_day.reference_loss_db, np.nan),
        uncertainty_db=pick(by_day.uncertainty_db, np.nan),
        no_through=pick(by_day.no_through, False),
        doubtful=pick(by_day.doubtful, False),
    )


def _plain(column):
    """A column as Python values that the database takes: NaT and NaN become None."""
    if isinstance(column, list):
        return column
    if column.dtype.kind == "f":
        return np.where(np.isnan(column), None, column.astype(object)).tolist()
    return column.tolist()
