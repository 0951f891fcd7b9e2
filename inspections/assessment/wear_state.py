"""What is known of a set of segments on a day, read once into arrays that the causes share."""

from dataclasses import dataclass

import numpy as np

from ..choices import SETTINGS
from ..numeric.day_readings import DayReadings, group_days
from ..numeric.decibels import reference_loss_db
from ..numeric.due import UsageLogs
from .policy_in_force import Policy, current_policy
from .wear_columns import Fittings, Usage, read_cable_faults, read_fittings, read_readings, read_usage


@dataclass(frozen=True)
class WearState:
    """`current` are the rows of the fittings in service, which are assessed."""

    day: np.datetime64
    policy: Policy
    fittings: Fittings
    current: np.ndarray
    usage: Usage
    logs: UsageLogs
    by_day: DayReadings
    for_fit: DayReadings
    cable_faults: list

    @property
    def segment(self):
        return self.fittings.segment[self.current]

    @property
    def mat(self):
        return self.fittings.mat[self.current]

    @property
    def first(self):
        """Row of the first fitting of each assessed segment."""
        return np.searchsorted(self.fittings.segment, self.segment)

    def of_design(self, name):
        """A policy value for each assessed segment, its mat's design over the pool."""
        design = self.fittings.design[self.current]
        return self._looked_up(name, design, lambda i: self.policy.value(name, design_id=i))

    def has_bench(self):
        depot = self.fittings.depot[self.current]
        return self._looked_up("has_bench", depot, lambda i: self.policy.has_bench(i or None)).astype(bool)

    def _looked_up(self, name, ids, value_of):
        kind = np.int64 if SETTINGS[name].whole else float
        known, index = np.unique(ids, return_inverse=True)
        return np.array([value_of(i) for i in known.tolist()], dtype=kind)[index] if len(known) else np.zeros(0, kind)


def read_wear_state(on, segment_ids=None):
    """Everything on record by that day about these segments (None: all)."""
    policy, day = current_policy(), np.datetime64(on, "D")
    fittings = read_fittings(on, segment_ids)
    usage = read_usage(None if segment_ids is None else np.unique(fittings.mat).tolist())
    by_day, for_fit = _days_of(read_readings(on, segment_ids), policy)
    current = np.flatnonzero(fittings.in_service)
    return WearState(
        day=day,
        policy=policy,
        fittings=fittings,
        current=current,
        usage=usage,
        logs=UsageLogs.of(usage.mat, usage.starts_on, usage.ends_on, usage.planned, usage.counts_for, day),
        by_day=by_day,
        for_fit=for_fit,
        cable_faults=read_cable_faults(on, segment_ids),
    )


def _days_of(raw, policy):
    """The days' readings, for the verdict and for the line; doubtful ones speak in the verdict only."""
    at_reference = reference_loss_db(raw.loss_db, raw.frequency_mhz, raw.temperature_c, policy.value("reference_mhz"))
    assumed_db = policy.value("reading_uncertainty_db")
    uncertainty_db = np.where(np.isnan(raw.uncertainty_db), assumed_db, raw.uncertainty_db)
    losses = raw.loss_db, at_reference, uncertainty_db, raw.no_signal
    given = (raw.segment, raw.day, raw.repeat, raw.after_cleaning, *losses)
    by_day = group_days(*given, raw.doubtful)
    sure = ~raw.doubtful
    for_fit = group_days(*(column[sure] for column in given), raw.doubtful[sure]) if not sure.all() else by_day
    return by_day, for_fit
