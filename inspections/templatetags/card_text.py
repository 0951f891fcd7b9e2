"""The card of limits in words: `{% load card_text %}`, then

{{ limit|card_limit:clock }}   2 years 9 months, 98 events*, not known; the star: where watching ended
{{ row|card_interval:clock }}  30 to 33, of months or events
{{ card|card_promise }}        what has happened by the limit
{{ card|card_evidence }}       what it rests on, a sentence each
{{ card|card_use }}            years or events, and for whose use it holds
{{ card|card_mats }}           what mats like these are
{{ card|card_longest }}        the length beyond which it says nothing
"""

import numpy as np
from django import template
from django.utils.text import capfirst

from fleet.figures import two_places
from fleet.months import MONTHS_A_YEAR
from fleet.parsing.counts import counted, listed

from ..limit_card.services import RATES
from ..numeric.wear_clock import PROPOSE_ABOVE
from ..numeric.words import Clock
from .figures import figure, risk
from .life_text import age_in_words

register = template.Library()

# 3 dB are half of the power
HALF_POWER_DB = 3.0
SPACE = "\N{NO-BREAK SPACE}"
NOT_TOLD = "The records do not tell wear by years from wear by events"
FOLLOWS_BOTH = "Wear follows years and events together, so there is one row for all use"


@register.filter
def card_limit(limit, clock):
    if np.isnan(limit.value):
        return "not known"
    if limit.value == 0:
        return "not one event" if clock == Clock.EVENTS else "less than a month"
    words = age_in_words(limit.value, clock)
    return f"{words}*" if limit.is_least else words


@register.filter
def card_interval(row, clock):
    """Where the limit may lie, in months or events; *later* where all of that lies beyond what was watched."""
    if np.isnan(row.low):
        return ""
    if row.limit.is_least and row.low >= row.limit.value:
        return "later"
    times = 1 if clock == Clock.EVENTS else MONTHS_A_YEAR
    low, high = (np.floor(times * each + 1e-6) for each in (row.low, row.high))
    if row.limit.is_least or not np.isfinite(high):
        return f"{low:.0f} or later"
    return f"{low:.0f} to {high:.0f}"


@register.filter
def card_promise(card):
    lost = "half of their power or more" if card.limit_db == HALF_POWER_DB else f"more than {figure(card.limit_db)} dB"
    said = f" ({figure(HALF_POWER_DB)}{SPACE}dB)" if card.limit_db == HALF_POWER_DB else ""
    return f"By then at most {risk(card.risk)} of such cables lose {lost}{said}, and the mat may miss tags."


@register.filter
def card_evidence(card):
    model, lives = card.model, card.lives
    watched = age_in_words(card.ends, Clock.YEARS)
    yield (
        f"{counted(model.readings, 'reading')} of {counted(model.segments, 'cable')} in one pool, from "
        f"{card.first_on:%B %Y} to {card.last_on:%B %Y}."
    )
    yield (
        f"{counted(len(lives), 'cable')} were checked whether or not anybody suspected them; "
        f"{lives.failures} of them read over the limit. {_agreement(card.agreement)}"
    )
    yield f"No limit goes further than ten cables of that length or longer were watched: at most {watched}."


def _agreement(found):
    if not found.tells:
        return "That is too few to check the limits by: they come from how the readings rise."
    low, high = f"{found.low:.2g}", f"{found.high:.2g}"
    said = "agrees with the limits" if found.is_close else "does not contradict the limits, but shows little"
    return f"That {said}: {found.times:.2g} times as often as calculated ({low} to {high})."


@register.filter
def card_use(card):
    """A sentence or two; the test and its number stand in it."""
    yield _clock_sentence(card)
    if card.use.is_known:
        yield _use_sentence(card)
    else:
        yield "How often these mats went is not on record: the limits are for use like theirs."


def _clock_sentence(card):
    found = card.found
    if found.is_told:
        other = {Clock.YEARS: "events", Clock.EVENTS: "years"}[found.clock]
        return f"Wear follows {found.clock}, not {other}: {_compared(found)}."
    if np.isnan(found.difference):
        return f"{NOT_TOLD}: too few cables have their events on record."
    return f"{FOLLOWS_BOTH if found.over_both < -PROPOSE_ABOVE else NOT_TOLD}: {_compared(found)}."


def _compared(found):
    """Both likelihood ratios, or the one there is."""
    said = f"twice the log likelihood ratio is {found.difference:.1f} over {counted(found.segments, 'cable')}"
    if not np.isnan(found.over_both):
        said += f", {found.over_both:.1f}".replace("-", "\N{MINUS SIGN}") + " against both half and half"
    return f"{said}; above 6 is called enough"


def _use_sentence(card):
    use, span = card.use, f"{card.use.low:.0f} to {card.use.high:.0f}"
    said = f"Mats here go {span} times a year, half of them {use.usual:.0f} or less."
    if card.clock == Clock.EVENTS:
        often = [name for name in card.uses if name in RATES and RATES[name] > use.high]
        parts = ["Weekly is 52 times a year, fortnightly 26, monthly 12." if card.found.is_told else ""]
        parts += [f"{_first(often)} use is more than any here: worked out from events alone." if often else ""]
        return " ".join(part for part in (said, *parts) if part)
    if not card.found.is_told:
        return f"{said} The limits are for use like that, or less."
    held = [name for name, rate in RATES.items() if use.holds(card.clock, rate)]
    left = [name for name in RATES if name not in held]
    parts = [f"The limits are the same for {listed(held)} use." if held else ""]
    parts += [f"{_first(left)} use is more than that: for it the card says nothing." if left else ""]
    return " ".join(part for part in (said, *parts) if part)


def _first(names):
    """Listed, to begin a sentence."""
    return capfirst(listed(names))


@register.filter
def card_mats(card):
    first, last = card.rows[0], card.rows[-1]
    return (
        f"Folding floor mats with coax cables up to {two_places(last.length_m)} m. New ones of "
        f"{two_places(first.length_m)} m lose about {max(first.as_new_db, 0):.1f} dB, of {two_places(last.length_m)} m "
        f"{last.as_new_db:.1f} dB, at {figure(card.reference_mhz)} MHz."
    )


@register.filter
def card_longest(card):
    return f"{two_places(card.rows[-1].length_m)} m"
