"""Bench days in words: `{% load bench_day_text %}`, then

{{ day|how_it_read }}                in short: read 0.14 dB high, about as usual, too few readings to say; held
{{ day|bench_day_text }}             a day that reads high or low, as one sentence
{{ day|taken_out_text }}             the same of its own page, whatever it read
{{ reading|bench_day_address }}      of the page of the bench day of a reading
"""

from django import template

from ..models.bench_days import bench_day_address as address_of
from ..numeric.words import DayReads
from .figures import short_day, spread, two_places

register = template.Library()
HELD = "held: its reference piece was off, and nobody looked yet"


@register.filter
def how_it_read(day):
    return HELD if getattr(day, "is_held", False) else _IN_SHORT[day.reads](day)


@register.filter
def bench_day_text(day):
    return f"{_bench_on(day)} {_read(day)}; taken out."


@register.filter
def taken_out_text(day):
    return f"{_bench_on(day)} {_IN_A_SENTENCE[day.reads](day)}"


@register.filter
def bench_day_address(reading):
    return address_of(reading.measured_on, reading.instrument_id)


def _bench_on(day):
    instrument = f", {day.instrument}," if day.instrument else ""
    return f"The bench on {short_day(day.measured_on)}{instrument}"


def _read(day):
    high = "high" if day.shift_db > 0 else "low"
    uncertain = f"(±\N{NO-BREAK SPACE}{spread(day.shift_sd_db)})"
    return f"read {two_places(abs(day.shift_db))} dB {uncertain} {high}"


def _in_short(day):
    return f"read {two_places(abs(day.shift_db))} dB {day.reads}"


_IN_SHORT = {
    DayReads.HIGH: _in_short,
    DayReads.LOW: _in_short,
    DayReads.USUAL: lambda day: "about as usual",
    DayReads.TOO_FEW: lambda day: "too few readings to say",
    DayReads.NOT_KNOWN: lambda day: "not known: there is no trend of the pool yet",
}
_IN_A_SENTENCE = {
    DayReads.HIGH: lambda day: f"{_read(day)}; this is taken out of its readings.",
    DayReads.LOW: lambda day: f"{_read(day)}; this is taken out of its readings.",
    DayReads.USUAL: lambda day: f"{_read(day)}, about as usual; this is taken out of its readings.",
    DayReads.TOO_FEW: lambda day: (
        f"has too few readings to say whether it read high or low. As far as they tell, it {_read(day)}, "
        "and this is taken out of them."
    ),
    DayReads.NOT_KNOWN: lambda day: "cannot be compared with others: there is no trend of the pool yet.",
}
