"""From what an instrument showed to the verdict, with the numbers put in, so that anybody can follow it by hand."""

from math import sqrt

from ..numeric.decibels import LOSS_PER_DEGREE, REFERENCE_TEMPERATURE_C
from ..numeric.words import Method, Shown
from ..templatetags.figures import figure, percent, short_day
from ..templatetags.piece_text import withheld_text

NO_LOSS = {
    Method.ON_ELEMENT: "On its element the number tells nothing of the cable alone.",
    Method.NOT_REFERENCED: "The leads were not taken out of the number.",
}


def worked_examples(readings):
    """[(which reading, its steps as sentences)]: the first of each instrument and way of connecting (ShownReadings)."""
    chosen = {}
    for each in readings:
        if not each.is_void:
            chosen.setdefault(_way(each.reading), each)
    return [(_which(each), worked(each.reading, each.judgement)) for each in chosen.values()]


def worked(reading, judgement):
    """The steps of one reading (Measurement) and its Judgement."""
    return [*_to_reference(reading, judgement), _verdict(reading, judgement)]


def _way(reading):
    return reading.instrument_id, reading.method, bool(reading.go_no_go), reading.no_signal


def _which(each):
    reading = each.reading
    instrument = reading.instrument or "instrument not recorded"
    place = f"position {each.position}, " if each.position else ""
    how = f", {reading.method}" if reading.method else ""
    return f"{place}{short_day(reading.measured_on)}, {instrument}{how}"


def _to_reference(reading, judgement):
    if judgement.loss_db is None:
        return [] if reading.go_no_go or reading.no_signal else [NO_LOSS[reading.method]]
    steps = []
    if reading.shown == Shown.RETURN_LOSS:
        steps.append(
            f"{_db(reading.loss_db)} return loss ÷ 2, as it went there and back = {_db(judgement.loss_db)} dB."
        )
    if judgement.reference_loss_db is None:
        return [*steps, f"At {figure(reading.frequency_mhz)} MHz it is too far from the reference to be compared."]
    loss, at_reference = _db(judgement.loss_db), _db(judgement.reference_loss_db)
    factors = _by_frequency(reading, judgement.reference_mhz) + _by_temperature(reading)
    same = f"It was read at {figure(judgement.reference_mhz)} MHz and 20 °C is assumed: {at_reference} dB."
    return [*steps, f"{loss}{factors} = {at_reference} dB." if factors else same]


def _by_frequency(reading, reference_mhz):
    frequency_mhz = reading.frequency_mhz or reference_mhz
    same = sqrt(reference_mhz / frequency_mhz) == 1
    return "" if same else f" · √({figure(reference_mhz)} ÷ {figure(frequency_mhz)})"


def _by_temperature(reading):
    warmth = reading.temperature_c
    if warmth is None:
        return ""
    return f" ÷ (1 + {LOSS_PER_DEGREE:g} · ({figure(warmth)} − {figure(REFERENCE_TEMPERATURE_C)}))"


def _verdict(reading, judgement):
    if judgement.withheld:
        return f"It has no verdict ({withheld_text(judgement.withheld).removeprefix('no verdict: ')})."
    if judgement.go_no_go:
        return _of_tester(judgement)
    if judgement.no_signal:
        return "No signal comes through: over."
    if not judgement.compared:
        return "So it has no verdict."
    limit, own, sd = judgement.limit_db, judgement.reference_loss_db, judgement.uncertainty_db
    if not sd:
        return (
            f"Its uncertainty is 0 dB, so {_db(own)} dB against the limit of {figure(limit)} dB is {judgement.verdict}."
        )
    z = (limit - own) / sd
    distance = f"({figure(limit)} − {_db(own)}) ÷ {figure(sd)}"
    inside = percent(1 - judgement.chance_over)
    return f"{distance} = {z:.2f}, and the chance of being within, Φ({z:.2f}), is {inside}: {judgement.verdict}."


def _of_tester(judgement):
    limit, set_db = figure(judgement.limit_db), judgement.set_limit_db
    set_to = f"set to {figure(set_db)} dB" if set_db else "set to a loss that is not recorded"
    return f"The tester, {set_to}, said {judgement.go_no_go}; the limit is {limit} dB: {judgement.verdict}."


def _db(number):
    """With three places, so that who does the sum anew finds the last one of two."""
    return f"{number:.3f}"
