"""The reference pieces of the demo pool: two at one bench, read first on its bench days, and none elsewhere."""

from dataclasses import dataclass, field
from datetime import timedelta

import numpy as np

from inspections.models import AgreedValue, BenchDaySaid, ReferencePiece, ReferenceReading
from inspections.numeric.reference_pieces import departure_sd_db, is_beyond

DEPOT = "Quay Street"
SINCE_DAYS, RENEWED_DAYS = 4 * 365, 600
# what its repeats give, once somebody asked
REPEATABILITY_DB = 0.07
NOISE_DB = 0.03
# a connector of the kept cable was replaced, and it reads a little more since
CABLE, CABLE_DB, CABLE_SINCE_DB = "Quay kept cable", 1.42, 1.47
ATTENUATOR, ATTENUATOR_DB = "Quay 3 dB", 3.02
UNCERTAINTY_DB = 0.02
# of the bench days on record, counted back: its adapter was loose, and the cable was read again
LOOSE_ADAPTER, LOOSE_DB = 3, 0.34
FOUND = "adapter cleaned and tightened, reads the same: the analyser was calibrated anew next time"
FOUND_LOOSE = "adapter was loose; tightened, and read again"


@dataclass
class PieceRows:
    """Unsaved rows in the order in which they can be stored."""

    pieces: list[ReferencePiece] = field(default_factory=list)
    agreed_values: list[AgreedValue] = field(default_factory=list)
    piece_readings: list[ReferenceReading] = field(default_factory=list)
    said: list[BenchDaySaid] = field(default_factory=list)


def piece_rows(random, on, depots, bench):
    """PieceRows of the bench that keeps pieces; its instrument gets its repeatability."""
    (depot,) = [each for each in depots if each.name == DEPOT]
    instrument, _ = bench.instruments[DEPOT]
    instrument.repeatability_db = REPEATABILITY_DB
    rows, renewed_on = PieceRows(), on - timedelta(days=RENEWED_DAYS)
    cable, attenuator = (_piece(rows, name, depot) for name in (CABLE, ATTENUATOR))
    _agree(rows, cable, on - timedelta(days=SINCE_DAYS), CABLE_DB, "mean of 10 readings on 3 days")
    _agree(rows, cable, renewed_on, CABLE_SINCE_DB, "new connector; mean of 10 readings on 4 days")
    _agree(rows, attenuator, on - timedelta(days=SINCE_DAYS), ATTENUATOR_DB, "certificate")
    days = [day for day in sorted(bench.shifts_of(DEPOT)) if day >= on - timedelta(days=SINCE_DAYS)]
    for back, day in zip(range(len(days), 0, -1), days, strict=True):
        shift_db, now_db = bench.shifts_of(DEPOT)[day], CABLE_SINCE_DB if day >= renewed_on else CABLE_DB
        if back == LOOSE_ADAPTER:
            _read(rows, cable, day, instrument, now_db + LOOSE_DB)
        _read(rows, cable, day, instrument, now_db + shift_db + random.normal(0.0, NOISE_DB))
        _read(rows, attenuator, day, instrument, ATTENUATOR_DB + shift_db + random.normal(0.0, NOISE_DB))
        _say(rows, day, instrument, back, now_db)
    return rows


def _piece(rows, name, depot):
    rows.pieces.append(ReferencePiece(name=name, depot=depot))
    return rows.pieces[-1]


def _agree(rows, piece, agreed_on, loss_db, basis):
    value = {"agreed_loss_db": loss_db, "uncertainty_db": UNCERTAINTY_DB, "basis": basis}
    rows.agreed_values.append(AgreedValue(piece=piece, agreed_on=agreed_on, **value))


def _read(rows, piece, day, instrument, loss_db):
    repeat = 1 + sum(each.piece is piece and each.measured_on == day for each in rows.piece_readings)
    row = {"measured_on": day, "repeat": repeat, "loss_db": round(float(loss_db), 2), "instrument": instrument}
    rows.piece_readings.append(ReferenceReading(piece=piece, **row))


def _say(rows, day, instrument, back, cable_db):
    """Whoever measures here looks at once at what is beyond its limits."""
    (attenuator, cable) = rows.piece_readings[-1], rows.piece_readings[-2]
    off_db = np.array([cable.loss_db - cable_db, attenuator.loss_db - ATTENUATOR_DB])
    if back == LOOSE_ADAPTER or is_beyond(off_db, departure_sd_db(REPEATABILITY_DB, UNCERTAINTY_DB)).any():
        found = FOUND_LOOSE if back == LOOSE_ADAPTER else FOUND
        rows.said.append(BenchDaySaid(measured_on=day, instrument=instrument, looked_on=day, found=found))
