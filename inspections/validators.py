"""Checks of single values, used alike by models, forms, files and sweeps."""

import math
import re
from dataclasses import dataclass

from django.conf import settings
from django.core.exceptions import ValidationError

from .choices import SETTINGS
from .limits import FREQUENCY, LARGEST_LOSS_DB, READING_LOSS, TEMPERATURE
from .numeric.words import InstrumentKind, Method, Verdict

NO_SIGNAL = "no signal"
# what may be typed for what a go/no-go tester said: a key each
GO_NO_GO = {"w": Verdict.WITHIN, "within": Verdict.WITHIN, "o": Verdict.OVER, "over": Verdict.OVER}
_TYPED = re.compile(r"[-+\u2212]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)")


@dataclass(frozen=True)
class TypedLoss:
    """What an instrument showed: a number of dB, that no signal came through, or what a go/no-go tester said."""

    loss_db: float | None
    no_signal: bool = False
    go_no_go: str = ""

    def __post_init__(self):
        if (self.loss_db is not None) + self.no_signal + bool(self.go_no_go) != 1:
            raise ValueError("A loss is a number of dB, no signal, or the word of a go/no-go tester: one of them.")

    @classmethod
    def of_column(cls, value):
        """As a column of files holds it: a number, a word of a go/no-go tester, None where there was no signal."""
        if isinstance(value, str):
            return cls(None, go_no_go=value)
        return cls(value, no_signal=value is None)

    @classmethod
    def of_reading(cls, reading):
        return cls(reading.loss_db, reading.no_signal, reading.go_no_go)

    @property
    def is_unlikely(self):
        return self.loss_db is not None and self.loss_db > READING_LOSS.unusual_above


def check_loss_db(value):
    """A loss in dB: finite, not negative, and a number that a bench can measure."""
    if value is None or not math.isfinite(value) or not 0 <= value < LARGEST_LOSS_DB:
        raise ValidationError(f"A loss is a number of dB from 0 to below {LARGEST_LOSS_DB}, such as 1.31.", code="loss")


def check_frequency_mhz(value):
    FREQUENCY.check(value)


def check_temperature_c(value):
    TEMPERATURE.check(value)


def parse_loss(text):
    """What was typed for a loss, as a TypedLoss.

    `1,31`, `1.31 dB`, `-1.31` mean 1.31 (a loss is positive, an analyser shows it negative); `n`, `no` and `open`
    mean NO_SIGNAL; `w` and `within`, `o` and `over` are what a go/no-go tester said. LARGEST_LOSS_DB and above is
    refused, as is anything that is no plain number. From UNLIKELY_LOSS_DB on the number is taken as it is; the form
    asks for a confirmation.
    """
    plain = " ".join(str(text).split()).lower()
    if plain in (NO_SIGNAL, "nosignal", "no", "n", "open"):
        return TypedLoss(None, no_signal=True)
    if plain in GO_NO_GO:
        return TypedLoss(None, go_no_go=GO_NO_GO[plain].value)
    number = plain.removesuffix("db").strip()
    if not _TYPED.fullmatch(number):
        raise ValidationError(
            f"“{str(text)[:30]}” is not a loss: write a number of dB such as 1.31, or “no” for no signal.", code="loss"
        )
    loss_db = abs(float(number.replace(",", ".").replace("\u2212", "-")))
    check_loss_db(loss_db)
    return TypedLoss(loss_db)


@dataclass(frozen=True)
class InstrumentFault:
    """What no instrument can be: the field, what its cell in a file should hold, and the same as a sentence."""

    field: str
    expected: str
    sentence: str


NO_UNCERTAINTY = InstrumentFault(
    "standard_uncertainty_db",
    "a number of dB, or the kind of the instrument",
    "Write a number of dB, or say above what it is.",
)
NO_SET_LIMIT = InstrumentFault(
    "set_limit_db",
    "the loss in dB from which on the tester says over",
    "Write the loss in dB from which on the tester says “over”.",
)
SET_LIMIT_OF_OTHER = InstrumentFault(
    "set_limit_db",
    "an empty cell: only a go/no-go tester is set to a limit",
    "Leave it empty: only a go/no-go tester is set to a limit.",
)
NOTHING_TO_TAKE_OUT = InstrumentFault(
    "leads_taken_out",
    "no: this kind of instrument reads nothing through its leads alone",
    "Take the tick out: this kind of instrument cannot read its own leads through.",
)
_NO_LEADS = (InstrumentKind.GO_NO_GO, InstrumentKind.ONE_PORT)


def instrument_faults(kind, standard_uncertainty_db, set_limit_db, leads_taken_out):
    """InstrumentFaults of an instrument; the one rule for its form and for files."""
    if standard_uncertainty_db is None and not kind:
        yield NO_UNCERTAINTY
    if set_limit_db is None and kind == InstrumentKind.GO_NO_GO:
        yield NO_SET_LIMIT
    if set_limit_db is not None and kind != InstrumentKind.GO_NO_GO:
        yield SET_LIMIT_OF_OTHER
    if leads_taken_out and kind in _NO_LEADS:
        yield NOTHING_TO_TAKE_OUT


def check_method(kind, method):
    """Refuse a way of connecting a cable in which an instrument of that kind shows nothing, or something else.

    `method` "": not said. One port sees a cable from one end only: its number, taken as through, would be twice the
    loss.
    """
    if kind == InstrumentKind.ONE_PORT and method in ("", Method.THROUGH):
        raise ValidationError(ONE_END_ONLY, code="method")
    if kind in (InstrumentKind.GO_NO_GO, InstrumentKind.LOSS_METER) and method in _SEEN_FROM_ONE_END:
        raise ValidationError(f"A {kind_in_words(kind)} needs both ends of the cable: choose “through”.", code="method")


def check_shown(kind, method, loss):
    """Refuse what an instrument of that kind cannot have shown of a cable connected that way; `loss`: a TypedLoss."""
    if loss.go_no_go and kind != InstrumentKind.GO_NO_GO:
        raise ValidationError(
            f"“{loss.go_no_go}” is what a go/no-go tester says. Type the number of dB, or choose the tester above.",
            code="word",
        )
    if loss.loss_db is not None and kind == InstrumentKind.GO_NO_GO:
        raise ValidationError(
            f"{loss.loss_db:g} is a number, and the tester shows none. Type w for within or o for over, "
            "or choose another instrument above.",
            code="number",
        )
    if loss.no_signal and method in _SEEN_FROM_ONE_END:
        raise ValidationError("From one end there is always a number. Type what the instrument shows.", code="number")


ONE_END_ONLY = (
    "An analyser with one port sees one end only. Say what is at the far end: open, shorted, or the element of the mat."
)
_SEEN_FROM_ONE_END = (Method.FAR_END_OPEN, Method.FAR_END_SHORTED, Method.ON_ELEMENT)


def kind_in_words(kind):
    return {InstrumentKind.GO_NO_GO: "go/no-go tester", InstrumentKind.LOSS_METER: "loss meter"}.get(kind, str(kind))


def range_of(setting):
    """What may be written for a setting, as a sentence."""
    lowest = "1/12 (one month)" if setting.name == "age_limit_years" else f"{setting.lowest:g}"
    off = " or 0 for no limit" if setting.off_at_zero else ""
    return f"write a number from {lowest} to {setting.highest:g}{',' if off else ''}{off}."


def check_setting(name, value):
    """A policy value within the range of its setting; whole where the setting is whole."""
    setting = SETTINGS.get(name)
    if setting is None:
        raise ValidationError(f"“{name}” is not a setting. Settings: {', '.join(SETTINGS)}.", code="setting")
    off = setting.off_at_zero and value == 0
    if value is None or not math.isfinite(value) or not (off or setting.lowest <= value <= setting.highest):
        raise ValidationError(f"{setting.label}: {range_of(setting)}", code="range")
    if setting.whole and value != int(value):
        raise ValidationError(f"{setting.label}: write a whole number.", code="whole")


EVENT_COSTS = ("event_cost_low", "event_cost_high")


def check_event_costs(low, high):
    """What an event costs at least is not more than at most; None: not known."""
    if None not in (low, high) and low > high:
        raise ValidationError(
            f"An event with a cable over cannot cost at least {low:.12g} and at most {high:.12g}. "
            "Write the smaller one first.",
            code="event_costs",
        )


class TooLarge(ValidationError):
    """More bytes than `settings.UPLOAD_LIMIT_BYTES`; refused before anything is parsed."""

    sentence = "These files are larger than {limit_mb:g} MB together, so nothing was read or stored."

    def __init__(self):
        super().__init__(self.sentence.format(limit_mb=settings.UPLOAD_LIMIT_BYTES / 2**20))


def check_size(size_bytes, refusal=TooLarge):
    if size_bytes > settings.UPLOAD_LIMIT_BYTES:
        raise refusal
