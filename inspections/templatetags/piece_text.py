"""Reference pieces in words: `{% load piece_text %}`, then

{{ value|agreed_text }}              1.42 ± 0.02 dB, or: not agreed yet
{{ value|agreed_before }}            agreed 1.42 ± 0.02 dB, or: not agreed yet
{{ read|departure_text }}            +0.04 dB, inside ±0.18
{{ read|what_to_do }}                a sentence: go on, or what to look at
{{ judgement.withheld|withheld_text }}
"""

from django import template

from .figures import figure, short_day, signed, two_places

register = template.Library()
LOOK = (
    "Clean and retorque the connectors, let the instrument warm up, and read the piece again. "
    "If it stays off, calibrate the instrument, or take another lead or adapter."
)


@register.filter
def agreed_text(value):
    if value is None or value.agreed_loss_db is None:
        return "not agreed yet"
    return f"{two_places(value.agreed_loss_db)} ± {figure(float(f'{value.uncertainty_db:.3g}'))} dB"


@register.filter
def agreed_before(value):
    text = agreed_text(value)
    return text if value is None or value.agreed_loss_db is None else f"agreed {text}"


@register.filter
def departure_text(read):
    """How far a reading is off, with its limit; "" where no value was agreed by its day."""
    if read.difference_db is None:
        return ""
    place = "outside" if read.is_beyond else "inside"
    return f"{signed(read.difference_db)} dB, {place} ±{two_places(read.limit_db)}"


@register.filter
def what_to_do(read):
    """What a reading says of its bench day, as one or more sentences."""
    if read.difference_db is None:
        return f"{two_places(read.reading.loss_db)} dB. No value is agreed yet, so it says nothing of the bench."
    said = departure_text(read)
    if read.not_trusted:
        return f"{said}. This bench day is not to be trusted: {read.not_trusted}."
    if not read.is_beyond:
        near = abs(read.difference_db) > read.warning_db
        return f"{said}: go on{', and watch it: it is near its limit' if near else ''}."
    if read.looked_on:
        return f"{said}. Looked at on {short_day(read.looked_on)}."
    return f"STOP and look: {said}. {LOOK}"


@register.filter
def withheld_text(withheld):
    """Why a reading has no verdict."""
    if withheld.not_trusted:
        return f"bench day not to be trusted: {withheld.not_trusted}"
    return "no verdict: the reference piece was off, and nobody looked yet"
