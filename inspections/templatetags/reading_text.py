"""What an instrument showed, in words: `{% load reading_text %}`, then

{{ reading|reading_in_words }}      1.31 dB; 3.2 dB return loss, far end open → 1.60 dB; within; no signal
{{ method|method_in_words }}        how the cables are connected: through, far end open …
{{ judgement|chance_in_words }}     chance of being over the limit, beside a verdict
"""

from django import template

from ..numeric.words import Shown
from .figures import percent, two_places

register = template.Library()


@register.filter
def reading_in_words(reading, unit=" dB"):
    """A Measurement: what was shown, and what that makes of its cable. `unit` "": where the heading names it."""
    if reading.go_no_go:
        return f"{reading.go_no_go} (go/no-go)"
    if reading.no_signal:
        return "no signal"
    shown = f"{two_places(reading.loss_db)}{unit}"
    if reading.shown == Shown.RETURN_LOSS:
        return f"{shown} return loss, {reading.method} → {two_places(reading.cable_loss_db)}{unit}"
    if reading.shown == Shown.NO_LOSS:
        return f"{shown} {reading.method}"
    return shown


@register.filter
def method_in_words(method):
    return method or "method not recorded"


@register.filter
def chance_in_words(judgement):
    """'' where the reading has no number."""
    return "" if judgement.chance_over is None else f"chance of being over {percent(judgement.chance_over)}"


@register.filter
def more_or_less(difference_db):
    """0.30 dB more, 0.12 dB less, the same."""
    if abs(difference_db) < 0.005:
        return "the same as"
    return f"{two_places(abs(difference_db))} dB {'more' if difference_db > 0 else 'less'} than"


def is_bare_number(reading):
    """It stands alone in its cell, so that the unit of the heading belongs to it."""
    return not reading.go_no_go and not reading.no_signal and reading.shown == Shown.LOSS


@register.filter
def frequency_in_words(reading):
    return f"{reading.frequency_mhz:g} MHz" if reading.frequency_mhz else "reference frequency"


@register.filter
def warmth_in_words(reading):
    return "20 °C assumed" if reading.temperature_c is None else f"{reading.temperature_c:g} °C"
