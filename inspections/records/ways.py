"""How a reading came to its verdict, step by step, so that it can be followed by hand: `way_of(reading, judgement)`."""

from dataclasses import dataclass

from ..numeric.decibels import COMPARABLE_MHZ
from ..numeric.words import Method, Shown, Verdict
from ..templatetags.figures import figure, percent, two_places
from ..templatetags.piece_text import withheld_text

NOT_RECORDED = "not recorded, taken as through"
_NO_LOSS = {
    Method.ON_ELEMENT: "says nothing of the cable alone",
    Method.NOT_REFERENCED: "the leads were not taken out",
}


@dataclass(frozen=True)
class Way:
    """In words, '' where a step is not there: what was `shown`, `how` the cable was connected, the `loss` of
    the cable, the same `at_reference` frequency and 20 °C, and what was `judged` of it."""

    shown: str
    how: str
    loss: str
    at_reference: str
    judged: str


def way_of(reading, judgement):
    """The Way of a reading (Measurement) and its Judgement."""
    return Way(
        shown=shown_in_words(reading),
        how=reading.method or NOT_RECORDED,
        loss=_loss(reading, judgement),
        at_reference=_at_reference(reading, judgement),
        judged=_judged(judgement),
    )


def shown_in_words(reading):
    """What the instrument showed: `3.20 dB return loss`, `1.31 dB`, `no signal`, or the word of a go/no-go tester."""
    if reading.go_no_go:
        set_db = reading.instrument and reading.instrument.set_limit_db
        limit = f"set to {figure(set_db)} dB" if set_db else "set limit not recorded"
        return f"{reading.go_no_go}, {limit}"
    if reading.no_signal:
        return "no signal"
    what = " return loss" if reading.shown == Shown.RETURN_LOSS else ""
    return f"{two_places(reading.loss_db)} dB{what}{_at(reading)}"


def _at(reading):
    """At which frequency and temperature, where either is on record: what the next step brings to the reference."""
    frequency = f"{figure(reading.frequency_mhz)} MHz" if reading.frequency_mhz else ""
    temperature = f"{figure(reading.temperature_c)} °C" if reading.temperature_c is not None else ""
    said = ", ".join(filter(None, [frequency, temperature]))
    return f" at {said}" if said else ""


def _loss(reading, judgement):
    if reading.go_no_go or reading.no_signal:
        return ""
    if judgement.loss_db is None:
        return f"none: {_NO_LOSS[reading.method]}"
    half = "half: " if reading.shown == Shown.RETURN_LOSS else ""
    return f"{half}{two_places(judgement.loss_db)} dB"


def _at_reference(reading, judgement):
    if judgement.loss_db is None:
        return ""
    if judgement.reference_loss_db is None:
        lowest, highest = map(figure, COMPARABLE_MHZ)
        return f"not compared: {figure(reading.frequency_mhz)} MHz lie outside {lowest} to {highest} MHz"
    return f"{two_places(judgement.reference_loss_db)} dB ± {two_places(judgement.uncertainty_db)}"


def _judged(judgement):
    if judgement.withheld:
        return withheld_text(judgement.withheld)
    if not judgement.compared:
        return "no verdict"
    if judgement.go_no_go:
        limit = f"limit {figure(judgement.limit_db)} dB"
        return f"{judgement.verdict}, {limit}" if judgement.verdict != Verdict.UNDECIDED else f"undecided: {limit}"
    chance = "" if judgement.chance_over is None else f", chance of being over {percent(judgement.chance_over)}"
    return f"{judgement.verdict}{chance}"
