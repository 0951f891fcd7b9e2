"""Limits by length in words: `{% load limit_text %}`, then

{{ page|limits_in_short }}     which lengths to change first, and which to leave longer
{{ page|agreement_in_words }}  whether the trend agrees with what checks saw
{{ page|limits_end }}          how far cables were watched, and what that means for the limits
"""

import numpy as np
from django import template

from fleet.parsing.counts import counted

from ..numeric.words import Clock
from .figures import figure, risk
from .life_text import age_in_words, age_with_interval, share_in_words

register = template.Library()

NEVER = {Clock.YEARS: "not within 40 years", Clock.EVENTS: "not within 5,000 events"}
BEYOND = "beyond what was watched"


def limit_in_words(row, page):
    """Of a PositionLimit, with its interval, and whether anybody watched a cable for so long."""
    if np.isnan(row.age):
        return "not known: the readings fall"
    if not row.has_limit:
        return NEVER[page.clock]
    words = age_with_interval(row, page.clock)
    return f"{words}, {BEYOND}" if row.age > page.watched_until else words


def share_with_interval(share, low, high):
    return "" if np.isnan(share) else share_in_words(share, share, low, high)


@register.filter
def limits_in_short(page):
    if not page.has_fit:
        return "No limit can be told yet: the readings do not make a trend of the pool."
    if not page.rows:
        return "No design in use has a position, so there is no limit to tell."
    first, later = (sorted({row.length_m for row in page.rows if is_so(row)}) for is_so in (_first, _later))
    if not first and not later:
        return "No limit is in force today, so each length may have the one below."
    return " ".join(part for part in (_change_first(page, first, later), _leave_longer(page, first, later)) if part)


def _first(row):
    return row.comes_first


def _later(row):
    return row.may_stay


def _change_first(page, first, later):
    if not first:
        return f"No length reaches {risk(page.risk)} over before the limit of today."
    which = _lengths(first, later, "from")
    return f"Change these first: cables {which} reach {risk(page.risk)} over before their limit of today."


def _leave_longer(page, first, later):
    if not later:
        return "None can be left in for longer."
    return f"Leave these longer: cables {_lengths(later, first, 'up to')} stay below it beyond their limit."


def _lengths(lengths, others, word):
    """`from 2.6 m on`, `up to 2.1 m` where one length parts them, else each of them."""
    if word == "from" and (not others or lengths[0] > others[-1]):
        return f"from {figure(lengths[0])} m on"
    if word == "up to" and (not others or lengths[-1] < others[0]):
        return f"up to {figure(lengths[-1])} m"
    return f"of {', '.join(map(figure, lengths))} m"


@register.filter
def agreement_in_words(page):
    found = page.agreement
    if found is None or not found.lives:
        return "No sample or routine reading yet says whether that is so."
    if not found.tells:
        return (
            f"{counted(found.lives, 'cable')} were checked, and too few went over, or should have, to say whether the "
            "trend is right: the limits are the trend’s alone."
        )
    often = f"{found.times:.2g} times as often as the trend says ({found.low:.2g} to {found.high:.2g})"
    if found.disagrees:
        return (
            f"The trend does not agree with what checks saw: cables went over {often}. "
            "Do not set limits by it before you know why."
        )
    return f"What checks saw agrees with the trend: cables went over {often}."


@register.filter
def limits_end(page):
    if not page.watched_until:
        return "No cable was watched by a sample or routine reading yet."
    return (
        f"No cable was watched beyond {age_in_words(page.watched_until, page.clock)}. "
        "What lies beyond is the trend drawn out: it is not proposed."
    )
