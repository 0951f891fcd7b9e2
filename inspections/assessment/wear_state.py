"""What is known of a set of segments on a day, read once into arrays that the causes share."""

from dataclasses import dataclass

import numpy as np

from ..choices import SETTINGS
from ..numeric.bench_day_keys import bench_day_key
from ..numeric.day_readings import DayReadings, SingleReadings, group_days
from ..numeric.decibels import reference_loss_db
from ..numeric.due import UsageLogs
from ..numeric.methods import loss_of_shown_db, reading_uncertainty_db, set_as_said_db
from ..numeric.reference_pieces import PieceReadings
from .bench_day_selectors import read_bench_days
from .policy_in_force import Policy, current_policy
from .wear_columns import Fittings, Usage, read_cable_faults, read_fittings, read_instruments, read_readings, read_usage

# more than a mat has; as many as its column holds
_POSITIONS = 1 << 16


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
    # what counts of the reference pieces of the whole pool
    pieces: PieceReadings
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

    def of_place(self, name):
        """A policy value for each assessed segment: of its position, else of its mat's design, else of the pool."""
        design, position = self.fittings.design[self.current], self.fittings.position[self.current]
        # one number names both
        place = design * _POSITIONS + (position if SETTINGS[name].per_position else 0)
        return self._looked_up(name, place, lambda key: self._of_place(name, *divmod(key, _POSITIONS)))

    def _of_place(self, name, design_id, position):
        return self.policy.value(name, design_id=design_id, position=position or None)

    def has_bench(self):
        depot = self.fittings.depot[self.current]
        return self._looked_up("has_bench", depot, lambda i: self.policy.has_bench(i or None)).astype(bool)

    def _looked_up(self, name, ids, value_of):
        kind = np.int64 if SETTINGS[name].whole else float
        known, index = np.unique(ids, return_inverse=True)
        return np.array([value_of(i) for i in known.tolist()], dtype=kind)[index] if len(known) else np.zeros(0, kind)


def read_wear_state(on, segment_ids=None, *, policy=None):
    """Everything on record by that day about these segments (None: all), under a policy (None: the one in force)."""
    policy, day = policy or current_policy(), np.datetime64(on, "D")
    fittings = read_fittings(on, segment_ids)
    usage = read_usage(None if segment_ids is None else np.unique(fittings.mat).tolist())
    bench_days = read_bench_days(on)
    by_day = days_of(read_readings(on, segment_ids), policy, bench_days)
    current = np.flatnonzero(fittings.in_service)
    return WearState(
        day=day,
        policy=policy,
        fittings=fittings,
        current=current,
        usage=usage,
        logs=UsageLogs.of(usage.mat, usage.starts_on, usage.ends_on, usage.planned, usage.usual, usage.counts_for, day),
        by_day=by_day,
        pieces=bench_days.pieces.for_trend(),
        cable_faults=read_cable_faults(on, segment_ids),
    )


def days_of(raw, policy, bench_days):
    """DayReadings of Readings of a day, as the BenchDays of that day have them."""
    # a day that is not to be trusted tells nothing, not even that no signal came through
    raw = raw.take(~np.isin(bench_day_key(raw.day, raw.instrument), bench_days.not_trusted))
    instruments = read_instruments()
    row = instruments.rows_of(raw.instrument)
    known_db = instruments.uncertainty_db[row]
    known_db = np.where(np.isnan(known_db), policy.value("reading_uncertainty_db"), known_db)
    over_at_db, within_at_db = set_as_said_db(raw.shown, instruments.set_limit_db[row])
    loss_db = loss_of_shown_db(raw.number_db, raw.shown)
    return group_days(
        SingleReadings(
            segment=raw.segment,
            day=raw.day,
            repeat=raw.repeat,
            after_cleaning=raw.after_cleaning,
            loss_db=loss_db,
            reference_loss_db=reference_loss_db(
                loss_db, raw.frequency_mhz, raw.temperature_c, policy.value("reference_mhz")
            ),
            uncertainty_db=reading_uncertainty_db(known_db, instruments.made_for_reflection[row], raw.shown),
            instrument=raw.instrument,
            no_signal=raw.no_signal,
            doubtful=raw.doubtful,
            over_at_db=over_at_db,
            within_at_db=within_at_db,
            held=np.isin(bench_day_key(raw.day, raw.instrument), bench_days.held),
        )
    )
