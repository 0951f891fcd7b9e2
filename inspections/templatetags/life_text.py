"""Lives of cables in words: `{% load life_text %}`, then

{{ page|how_long:group }}      the answer, in a sentence or two; of the pool without a group
{{ page|by_todays_limit:group }}  what share is over by then
{{ page|where_it_ends }}       how far cables were watched, and what that hides
{{ page|stops_at_the_limit }}  whether nothing was watched beyond today's limit
{{ page|which_first }}         which group wears first, where they differ
{{ group|group_name:page.grouping }}   Cables from 1 to below 2 m, a design, a depot
{{ age|age_in_words:page.clock }}      2 years 5 months, 143 events
{{ page|counts_in_words }}     what is not among the lives, and why, a sentence each
{{ row.how|otherwise_in_words }}       how the same lives were counted otherwise
"""

import math

import numpy as np
from django import template

from fleet.figures import PERCENT
from fleet.months import MONTHS_A_YEAR
from fleet.parsing.counts import counted
from fleet.parsing.durations import months_in_words

from ..numeric.words import Clock
from .figures import percent, risk, short_day

register = template.Library()

HALF = 0.5

# the whole pool is changed at a limit where nothing was watched beyond this times it
AT_THE_LIMIT = 1.1
WATCHED = "No cable was watched beyond"


@register.filter
def age_in_words(age, clock):
    """Rounded down, as limits are: a cable that lasts 2 years 5 months and a half lasts 2 years 5 months."""
    if clock == Clock.EVENTS:
        return counted(math.floor(age + 1e-9), "event")
    return months_in_words(math.floor(MONTHS_A_YEAR * age + 1e-6))


@register.filter
def group_name(group, grouping):
    if group.is_whole:
        return "All cables"
    if grouping == "length":
        return f"Cables from {group.name} to below {group.name + 1} m" if group.name else "Cables below 1 m"
    return group.name or "No depot"


def share_in_words(least, most, low, high):
    """`12 % (9 to 16 %)`; where checks leave a span the middle of it stands."""
    middle = percent((least + most) / 2)
    if np.isnan(low) or percent(low) == percent(high):
        return middle
    return f"{middle} ({_low(low)} to {percent(high)})"


def _low(share):
    return percent(share).removesuffix(PERCENT) if share >= 0.001 else "0"


def age_with_interval(found, clock):
    """`2 years 5 months (25 to 33 months)`"""
    words = age_in_words(found.age, clock)
    if np.isnan(found.low):
        return words
    unit, times = ("events", 1) if clock == Clock.EVENTS else ("months", MONTHS_A_YEAR)
    if not np.isfinite(found.high):
        return f"{words} (from {_whole(times * found.low)} {unit} on)"
    return f"{words} ({_whole(times * found.low)} to {_whole(times * found.high)} {unit})"


def _whole(number):
    return math.floor(number + 1e-6)


@register.filter
def how_long(page, group=None):
    """Of a group, or of all cables."""
    life = (group or page.whole).life
    if not life.lives:
        return "Nothing shows yet how long cables last: none has a reading that counts for it."
    read = f"{life.failures} of {counted(life.lives, 'cable')} that were read went over the limit"
    if life.weibull is None:
        return f"{read}: too few to say how long they last. {_least(page, group or page.whole)}"
    early, half = life.ages_at[page.risk], life.ages_at[HALF]
    if early.age > life.watched_until:
        return f"{read}. {risk(page.risk)} are over only later than any was watched."
    said = f"{read}. {risk(page.risk)} are over after {age_with_interval(early, page.clock)}"
    return f"{said}, half of them after {age_with_interval(half, page.clock)}." if _seen(life, half) else f"{said}."


def _seen(life, found):
    return found.age <= life.watched_until


def _least(page, group):
    """What few failures say at least, by today's limit or by the end of what was watched."""
    life = group.life
    if life.bound is None:
        return "None was seen within either."
    age = group.limit if 0 < group.limit <= life.watched_until else life.watched_until
    share = life.bound.survival(age)
    return f"But by {age_in_words(age, page.clock)} at least {_at_least(share)} are still within (95{PERCENT} sure)."


@register.filter
def by_todays_limit(page, group):
    """What share is over when today's limit is reached."""
    life, limit = group.life, group.limit
    if not limit:
        return ""
    words = age_in_words(limit, page.clock)
    if limit > life.watched_until:
        return f"None was watched until today’s limit of {words}."
    if not life.is_settled:
        return ""
    row = np.searchsorted(life.curve.age, limit)
    if row == len(life.curve.age) or life.curve.age[row] != limit:
        return ""
    return f"By today’s limit of {words} {share_in_words(*life.curve.at(limit))} are over."


def _at_least(share):
    """Whole hundredths, rounded down."""
    return f"{math.floor(100 * share + 1e-9)}{PERCENT}"


@register.filter
def where_it_ends(page):
    end = f"{WATCHED} {age_in_words(page.whole.life.watched_until, page.clock)}."
    if stops_at_the_limit(page):
        changed = f"Cables are changed at {age_in_words(page.whole.limit, page.clock)}"
        return f"{end} {changed}: nothing shows yet whether they would last longer."
    return end


@register.filter
def stops_at_the_limit(page):
    """Cables are changed at an age, and hardly one was watched beyond."""
    return page.whole.limit > 0 and page.whole.life.watched_until <= AT_THE_LIMIT * page.whole.limit


@register.filter
def which_first(page):
    """The group that wears first against the one that lasts longest, and whether that is more than chance."""
    settled = [group for group in page.groups if group.life.weibull is not None]
    if len(settled) < 2:
        return ""
    ages = {id(group): group.life.ages_at[page.risk] for group in settled}
    first, last = (end(settled, key=lambda group: ages[id(group)].age) for end in (min, max))
    early, late = ages[id(first)], ages[id(last)]
    said = (
        f"{group_name(first, page.grouping)} go first: {risk(page.risk)} after {age_in_words(early.age, page.clock)}. "
        f"{group_name(last, page.grouping)} last longest: {age_in_words(late.age, page.clock)}."
    )
    return said if early.high < late.low else f"{said} Their intervals overlap: it may be chance."


@register.filter
def counts_in_words(page):
    counts, sentences = page.counts, []
    clock = "events since new are" if page.clock == Clock.EVENTS else "age is"
    if counts.never_read:
        sentences.append(f"{counted(counts.never_read, 'cable')} had no sample or routine reading that counts.")
    if counts.clock_not_known:
        sentences.append(
            f"{counted(counts.clock_not_known, 'cable')} that were read are left out, because their {clock} not known."
        )
    if counts.over_when_new:
        sentences.append(f"{counted(counts.over_when_new, 'cable')} were over when they were fitted: no life began.")
    if counts.taken_back:
        sentences.append(
            f"Of {counted(counts.taken_back, 'cable')} an over was followed by a within: the later reading stands."
        )
    if counts.entered_late:
        sentences.append(
            f"{counted(counts.entered_late, 'cable')} came used and measured good: they count from then on."
        )
    if counts.late:
        sentences.append(_late(page))
    return sentences


def _late(page):
    begin = short_day(page.records_begin.item())
    return (
        f"{counted(page.counts.late, 'cable')} were in use before the records begin ({begin}): "
        "they count as if no bad one had been taken out by then; the table below has it the other way, too."
    )


@register.filter
def otherwise_in_words(how):
    return {
        "suspects": "with readings that were taken because somebody suspected the cable",
        "older": "with cables of which only the least age or use is known, as seen within until then",
        "sure": "with readings alone that leave no doubt on which side of the limit they lie",
        "culled": "as if all bad cables had been taken out before the records begin",
    }[how]
