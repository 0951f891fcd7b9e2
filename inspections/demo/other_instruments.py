"""The instruments of the demo pool by kind, and a mat that was read with the two that belong to no bench."""

from datetime import timedelta

from inspections.choices import MeasurementReason, Taken
from inspections.models import Instrument, Measurement
from inspections.numeric.words import InstrumentKind, Method, Verdict

from . import names, scenarios

KINDS = {"bridge Q1": InstrumentKind.TWO_PORT, "field meter 2": InstrumentKind.LOSS_METER}
POCKET, TESTER = "pocket analyser 3", "cable tester 4"
READ_DAYS_AGO = 3


def instruments():
    """Those of the benches, and the two others."""
    of_benches = [
        Instrument(name=name, kind=KINDS[name].value, standard_uncertainty_db=uncertainty_db)
        for name, uncertainty_db, _ in names.INSTRUMENTS.values()
    ]
    pocket = Instrument(name=POCKET, kind=InstrumentKind.ONE_PORT.value)
    tester = Instrument(name=TESTER, kind=InstrumentKind.GO_NO_GO.value, set_limit_db=3.0)
    return [*of_benches, pocket, tester]


def readings(rows, on):
    """Of one mat, position by position: far end open, on its element, and what the tester said."""
    pocket, tester = (next(each for each in rows.instruments if each.name == name) for name in (POCKET, TESTER))
    newest = {}
    for reading in sorted(rows.readings, key=lambda reading: reading.measured_on):
        if reading.loss_db is not None:
            newest[id(reading.segment)] = reading.loss_db
    here = [
        fitting
        for fitting in rows.fittings
        if fitting.mat.number == scenarios.OTHER_INSTRUMENTS and fitting.removed_on is None
    ]
    ways = (
        lambda loss_db: {"instrument": pocket, "method": Method.FAR_END_OPEN.value, "loss_db": round(2 * loss_db, 1)},
        lambda loss_db: {"instrument": pocket, "method": Method.ON_ELEMENT.value, "loss_db": round(9 + loss_db, 1)},
        lambda _: {"instrument": tester, "method": Method.THROUGH.value, "go_no_go": Verdict.WITHIN.value},
    )
    return [
        Measurement(
            segment=fitting.segment,
            measured_on=on - timedelta(days=READ_DAYS_AGO),
            measured_by=names.MEASURED_BY[0],
            taken=Taken.AS_FOUND,
            reason=MeasurementReason.ROUTINE,
            **ways[(fitting.position - 1) % len(ways)](newest[id(fitting.segment)]),
        )
        for fitting in sorted(here, key=lambda fitting: fitting.position)
        if id(fitting.segment) in newest
    ]
