"""Readings of sampled mats, a day of a cable as one reading, as everywhere else."""

from dataclasses import dataclass
from math import nan

import numpy as np

from fleet.models import Fitting

from ..assessment.policy_in_force import current_policy
from ..bench.reading_selectors import judged, withheld_from
from ..bench.sample_selectors import COUNTED
from ..bench.verdicts import criteria_of
from ..choices import MeasurementReason, Taken
from ..models import Measurement
from ..numeric.day_readings import DayReadings, SingleReadings, day_verdicts, group_days
from ..numeric.methods import set_as_said_db


@dataclass(frozen=True)
class CableDays:
    """Days on which cables were read so that they can be compared, by segment and day; `rows`: {segment's key: rows}"""

    days: DayReadings
    rows: dict

    @classmethod
    def of(cls, readings, criteria):
        days = group_days(_single_readings(readings, criteria))
        rows = {}
        for row, segment in enumerate(days.segment.tolist()):
            rows.setdefault(segment, []).append(row)
        return cls(days, rows)

    def first_within(self, segment, first_day, last_day):
        """Row of its first day from the one to the other; −1 where there is none."""
        for row in self.rows.get(segment, ()):
            if np.datetime64(first_day, "D") <= self.days.day[row] <= np.datetime64(last_day, "D"):
                return row
        return -1

    def instruments(self, rows):
        """Key of the instrument of each row; 0 for −1, and where none is on record."""
        return [int(self.days.instrument[row]) if row >= 0 else 0 for row in rows]

    def verdicts(self, rows, limits_db):
        """Verdict of each row against its limit, '' for −1; lists."""
        if not rows:
            return []
        return [str(word) for word in day_verdicts(self.days.take_or_none(np.array(rows)), np.array(limits_db))[0]]


def days_read(samples, on):
    """(CableDays of what counts, CableDays of suspect ones) of the cables that were in mats of these samples."""
    criteria = criteria_of(current_policy())
    readings = _with_a_verdict(_readings(samples, on), on)
    counted = [reading for reading in readings if reading.reason in COUNTED]
    suspect = [reading for reading in readings if reading.reason == MeasurementReason.SUSPECT]
    return CableDays.of(counted, criteria), CableDays.of(suspect, criteria)


def limits_by_design(design_ids):
    """{design's key: loss limit in dB}"""
    policy = current_policy()
    return {key: criteria_of(policy, key).limit_db for key in set(design_ids)}


def _readings(samples, on):
    first = min((sample.drawn_on for sample in samples), default=on)
    held = Fitting.objects.filter(mat__sampled__sample__in=samples).values("segment")
    readings = Measurement.objects.valid_on(on).filter(segment__in=held, measured_on__gte=first)
    return readings.exclude(reason=MeasurementReason.NEW).select_related("instrument")


def _with_a_verdict(readings, on):
    """Without those of bench days that give none."""
    withheld = withheld_from(readings, on)
    return [reading for reading in readings if (reading.measured_on, reading.instrument_id) not in withheld]


def _single_readings(readings, criteria):
    judgements = [judged(reading, criteria) for reading in readings]
    set_limit_db = _numbers(reading.instrument and reading.instrument.set_limit_db for reading in readings)
    over_at_db, within_at_db = set_as_said_db([reading.shown for reading in readings], set_limit_db)
    return SingleReadings(
        segment=np.array([reading.segment_id for reading in readings], int),
        day=np.array([reading.measured_on for reading in readings], "datetime64[D]"),
        repeat=np.array([reading.repeat for reading in readings], int),
        after_cleaning=np.array([reading.taken == Taken.AFTER_CLEANING for reading in readings], bool),
        loss_db=_numbers(each.loss_db for each in judgements),
        reference_loss_db=_numbers(each.reference_loss_db for each in judgements),
        uncertainty_db=_numbers(each.uncertainty_db for each in judgements),
        instrument=np.array([reading.instrument_id or 0 for reading in readings], int),
        no_signal=np.array([reading.no_signal for reading in readings], bool),
        doubtful=np.array([bool(reading.doubt_reason) for reading in readings], bool),
        over_at_db=over_at_db,
        within_at_db=within_at_db,
        held=np.zeros(len(readings), bool),
    )


def _numbers(values):
    return np.array([nan if value is None else value for value in values], float)
