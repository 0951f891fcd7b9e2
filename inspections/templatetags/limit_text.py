"""Limits by length in words: `{% load limit_text %}`, then

{{ page|limits_in_short }}     which lengths to change first, and which to leave longer
{{ page|limits_end }}          how far cables were watched, and what that means for the limits
{{ design|to_change_first }}   {{ design|to_leave_longer }}   [LengthGroup] of a DesignLimits
{{ group|positions_in_words }} position 3, positions 3 and 4
{{ value|limit_value:clock }}  1 year 2 months, 143 events, no limit
{{ row|limit_in_words:page }}  the same of a PositionLimit, and whether it was ever watched
{{ page|any_first }}  {{ page|any_later }}  {{ page|nobody_watched_longer }}   of the closing lists
{{ clock|one_step }}  {{ groups|lengths_in_words }}   0.4, 0.75 and 1.1 m
{{ form|asked_in_words }}  {{ used|used_in_short }}
"""

import numpy as np
from django import template

from fleet.parsing.counts import counted, listed

from ..numeric.words import Clock
from .figures import figure, risk
from .life_text import age_in_words, age_with_interval, share_in_words

register = template.Library()

NEVER = {Clock.YEARS: "not within 40 years", Clock.EVENTS: "not within 5,000 events"}
FALLS = "not known: the readings fall"
BEYOND = "beyond what was watched"
# the least limit that the policy can hold
LEAST = {Clock.YEARS: 1 / 12, Clock.EVENTS: 1.0}
ONE_STEP = {Clock.YEARS: 6, Clock.EVENTS: 25}
LEAST_IN_WORDS = {Clock.YEARS: "under 1 month", Clock.EVENTS: "under 1 event"}


@register.filter
def limit_in_words(row, page):
    """Of a PositionLimit, and whether anybody watched such a cable for so long."""
    if np.isnan(row.age):
        return FALLS
    if not row.has_limit:
        return NEVER[page.clock]
    if row.age < LEAST[page.clock]:
        return LEAST_IN_WORDS[page.clock]
    words = age_in_words(row.age, page.clock)
    return f"{words}, {BEYOND}" if row.is_beyond else words


def limit_in_figures(row, page):
    """The same with its interval."""
    if not row.has_limit:
        return limit_in_words(row, page)
    return age_with_interval(row, page.clock)


def of_a_hundred(share):
    """A share as people count it: 48 of 100, 4 of 1,000."""
    if np.isnan(share):
        return ""
    if share < 0.001:
        return "fewer than 1 of 1,000"
    if share < 0.01:
        return f"{round(1000 * share)} of 1,000"
    return f"{round(100 * share)} of 100" if share < 0.995 else "nearly all"


def share_with_interval(share, low, high):
    return "" if np.isnan(share) else share_in_words(share, share, low, high)


def seen_in_words(row, page):
    """How many cables as long or longer were seen at the limit or later; where none was, how far they were watched."""
    if not row.watched_until:
        return "none"
    if row.is_beyond:
        return f"none; watched until {age_in_words(row.watched_until, page.clock)}"
    return counted(row.seen, "cable")


def to_do(row, page, further=0.0):
    """What a keeper does with cables of a PositionLimit."""
    if np.isnan(row.age):
        return "Look at the trend first."
    if row.age < LEAST[page.clock]:
        return "Change first. No limit helps: they are over almost from new."
    value = page.proposal(row, further)
    if row.comes_first or (value and not row.today):
        return f"Change first: at {age_in_words(value, page.clock)}."
    if value and value > row.today + LEAST[page.clock] / 2:
        return f"Leave longer: until {age_in_words(value, page.clock)}."
    return "Leave longer, a step at a time." if row.may_stay else "As today."


@register.filter
def limit_value(value, clock):
    return age_in_words(value, clock) if value else "no limit"


@register.filter
def positions_in_words(group):
    numbers = listed(list(map(str, group.positions)))
    return f"positions {numbers}" if len(group.positions) > 1 else f"position\N{NO-BREAK SPACE}{numbers}"


@register.filter
def to_change_first(design):
    return [group for group in design.groups if group.row.comes_first]


@register.filter
def to_leave_longer(design):
    return [group for group in design.groups if group.row.may_stay]


@register.filter
def any_first(page):
    return any(map(_first, page.rows))


@register.filter
def any_later(page):
    return any(map(_later, page.rows))


@register.filter
def nobody_watched_longer(page):
    """Of none that may stay a cable was watched beyond its limit of today."""
    return all(row.watched_until <= row.today for row in page.rows if row.may_stay)


@register.filter
def one_step(clock):
    """Months or events by which to go on beyond what was watched; our choice, one of those that the form has."""
    return ONE_STEP[clock]


@register.filter
def lengths_in_words(groups):
    """Of LengthGroups, the longest first."""
    return f"{listed([figure(length_m) for length_m in sorted({group.row.length_m for group in groups})])} m"


@register.filter
def asked_in_words(form):
    """Of an AskedForm, for the folded filters."""
    design = form.chosen("design") or "all designs"
    return f"{design}, counted in {form.wear_clock}"


@register.filter
def limits_in_short(page):
    if not page.has_fit:
        return "No limit can be told yet: the readings do not make a trend of the pool."
    if not page.rows:
        return "No design in use has a position, so there is no limit to tell."
    first, later = (sorted({row.length_m for row in page.rows if is_so(row)}) for is_so in (_first, _later))
    if not first and not later:
        return "No limit is in force today, so each length may have the one below."
    return f"{_change_first(page, first, later)} {_leave_longer(page, first, later)}"


def _first(row):
    return row.comes_first


def _later(row):
    return row.may_stay


def _change_first(page, first, later):
    if not first:
        return f"Of no length more than {risk(page.risk)} are over before the limit of today."
    which = _lengths(first, later, "from")
    return f"Change these first: cables {which}. More than {risk(page.risk)} are over before their limit."


def _leave_longer(page, first, later):
    if not later:
        return "None can be left in for longer."
    which = _lengths(later, first, "up to")
    return f"Leave these longer: cables {which}. Fewer than {risk(page.risk)} are over by their limit."


def _lengths(lengths, others, word):
    """`from 2.6 m on`, `up to 2.1 m` where one length parts them, else each of them."""
    if word == "from" and (not others or lengths[0] > others[-1]):
        return f"from {figure(lengths[0])} m on"
    if word == "up to" and (not others or lengths[-1] < others[0]):
        return f"up to {figure(lengths[-1])} m"
    return f"of {', '.join(map(figure, lengths))} m"


@register.filter
def limits_end(page):
    if not page.watched_until:
        return "No cable was watched by a sample or routine reading yet."
    return (
        f"No cable was watched beyond {age_in_words(page.watched_until, page.clock)}. "
        "What lies beyond is the trend drawn out, and nobody has seen it."
    )


@register.filter
def used_in_short(used):
    """Of UsedLimits."""
    places = counted(len(used.lines), "position")
    return f"{places}: {used.due_before} cables were due before, {used.due_after} after."
