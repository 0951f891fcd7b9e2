"""What the keeper of the demo pool left open: faults, an odd reading or two, spares on the shelf."""

from datetime import timedelta

from fleet.choices import FaultEnd, FaultPlace
from fleet.models import CableSegment, Fault

from . import names, scenarios

SPARES_OF_A_LENGTH = 2
MAT_FAULTS_PER_YEAR = 0.12


def faults_of_mats(random, on, mats):
    """Past faults that are no cable's, and the one that keeps its mat at home."""
    for mat in mats:
        end = mat.withdrawn_on or on
        for _ in range(random.poisson(MAT_FAULTS_PER_YEAR * (end - mat.acquired_on).days / 365)):
            reported_on = mat.acquired_on + timedelta(days=int(random.integers(0, (end - mat.acquired_on).days)))
            ended_on = reported_on + timedelta(days=int(random.integers(3, 30)))
            if ended_on < min(end, on - timedelta(days=40)):
                place = str(random.choice(list(names.FAULTS_OF_MATS)))
                reason = FaultEnd.NOTHING_FOUND if random.random() < 0.2 else FaultEnd.REPAIR
                yield _fault(mat, reported_on, place, ended_on=ended_on, end_reason=reason)
    by_number = {mat.number: mat for mat in mats}
    yield _fault(by_number[scenarios.HELD_BACK], on - timedelta(days=19), FaultPlace.COVER)


def open_cable_fault(rows, on):
    """A connector that was found loose some days ago, of a cable that has been in its mat for long."""
    fitted = [row for row in rows.fittings if row.mat.number in scenarios.CABLE_FAULT and row.removed_on is None]
    fitting = min(fitted, key=lambda row: (row.fitted_on, row.mat.number, row.position))
    return Fault(
        mat=fitting.mat,
        position=fitting.position,
        reported_on=on - timedelta(days=4),
        place=FaultPlace.CONNECTOR,
        what=names.FAULTS_OF_CABLES[1],
    )


def _fault(mat, reported_on, place, **values):
    return Fault(mat=mat, reported_on=reported_on, place=place, what=names.FAULTS_OF_MATS[place], **values)


def number_faults(faults):
    """Number the faults of one mat on one day."""
    seen = {}
    for fault in faults:
        key = fault.mat.number, fault.reported_on
        fault.number = seen[key] = seen.get(key, 0) + 1


def spares(cable_types, on):
    """New cables on the shelf, two of each length that a design needs; one length has run out."""
    for build in names.BUILDS:
        for length_m in build.lengths_m[:-1]:
            for _ in range(SPARES_OF_A_LENGTH):
                lot = f"{on.year - 1}-4"
                yield CableSegment(cable_type=cable_types[build.cable_type], length_m=length_m, lot=lot)


def newest_reading(rows, mat_number):
    """The newest reading of a cable that is in that mat now."""
    fitted = {
        id(fitting.segment)
        for fitting in rows.fittings
        if fitting.mat.number == mat_number and fitting.removed_on is None
    }
    read = [reading for reading in rows.readings if id(reading.segment) in fitted]
    return max(read, key=lambda reading: (reading.measured_on, reading.segment.serial, reading.repeat))


def make_dead(reading):
    """Make a reading one without signal."""
    reading.loss_db, reading.no_signal, reading.note = None, True, "no change when the plugs were moved"


def doubt_and_void(rows, on, by):
    """Two stored readings that were doubted or made void afterwards, with their trail."""
    newest_reading(rows, scenarios.DOUBTFUL).correct(by=by, doubt_reason="the plug was turned while reading")
    mistyped = newest_reading(rows, scenarios.MADE_VOID)
    mistyped.correct(
        by=by,
        voided_on=min(on, mistyped.measured_on + timedelta(days=1)),
        void_reason="read off the cable beside it",
    )
