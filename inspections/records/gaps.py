"""What the record of a mat does not show, in sentences: what is not known is said as such."""

from ..bench.pieces.linked_selectors import unlinked_instruments
from ..numeric.calendar import add_months
from ..numeric.words import Verdict
from ..templatetags.figures import counted

OLD_MONTHS = 12
ALWAYS = (
    "Loss is that of each cable, at one frequency. It says nothing of the antenna elements, of the reader, nor of how "
    "many transponders a course will detect.",
    "Dates are of gradual wear. What is crushed, cut or flooded after the last reading is in none of them.",
)


def what_it_does_not_show(told):
    """Sentences of a Told, those of this mat first."""
    own = (
        _never_measured,
        _without_a_verdict,
        _measured_long_ago,
        _undecided,
        _judged_uncertainty,
        _unlinked,
        _earlier,
    )
    return [*filter(None, (of(told) for of in own)), *ALWAYS]


def _positions(told, is_meant):
    rows = [(fitting.position, told.rows.get(fitting.segment_id)) for fitting in told.current]
    return [str(position) for position, row in rows if row is not None and is_meant(row)]


def _listed(positions):
    return f"Position{'' if len(positions) == 1 else 's'} {', '.join(positions)}"


def _never_measured(told):
    read = {each.reading.segment_id for each in told.readings if not each.is_void}
    never = _positions(told, lambda row: row.measured_on is None and row.segment_id not in read)
    return never and f"{_listed(never)}: not measured, so their loss is not known."


def _without_a_verdict(told):
    """Read, though on no day that counts."""
    read = {each.reading.segment_id for each in told.readings if not each.is_void}
    positions = _positions(told, lambda row: row.measured_on is None and row.segment_id in read)
    return positions and f"{_listed(positions)}: read, and no reading gives a verdict; the list of readings says why."


def _measured_long_ago(told):
    first = add_months(told.on, -OLD_MONTHS).astype(object)
    positions = _positions(told, lambda row: row.measured_on is not None and row.measured_on < first)
    return positions and f"{_listed(positions)}: last measured more than {OLD_MONTHS} months ago."


def _undecided(told):
    positions = _positions(told, lambda row: row.verdict == Verdict.UNDECIDED)
    return positions and f"{_listed(positions)}: the reading lies too close to the limit to say on which side it is."


def _judged_uncertainty(told):
    """Instruments without an uncertainty of their own, and readings without an instrument."""
    instruments = {each.reading.instrument for each in told.shown_readings if each.reading.loss_db is not None}
    names = sorted(each.name for each in instruments if each and each.standard_uncertainty_db is None)
    if None in instruments:
        names.append("readings without an instrument")
    if not names:
        return ""
    return f"The uncertainty of {', '.join(names)} is our judgement for such a reading. No certificate states it."


def _unlinked(told):
    """Readings of two benches, between which nobody knows the offset."""
    used = {each.reading.instrument_id for each in told.shown_readings if each.judgement.loss_db is not None} - {None}
    found = unlinked_instruments(told.on) if len(used) > 1 else None
    apart = found and found.among(used)
    if not apart:
        return ""
    names = " and ".join(apart.names)
    return f"{names} never read the same reference piece: by how much they differ for good is not known."


def _earlier(told):
    if told.from_on is None:
        return ""
    shown = {each.reading.pk for each in told.shown_readings}
    left = sum(each.reading.pk not in shown for each in told.readings)
    return left and f"{counted(left, 'earlier reading')} of this mat {'is' if left == 1 else 'are'} not listed."
