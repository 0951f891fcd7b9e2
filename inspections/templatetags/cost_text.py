"""What a rule costs in words: `{% load cost_text %}`, then

{{ page|cost_in_short }}        what today's limits cost, and how much could be saved
{{ page|cables_in_short }}      how many cables a year that is, today and at the cheapest
{{ row|cheapest_in_words:page }}  the age of least cost, or a span of them
{{ row|cost_act:page }}         what a keeper does with that
{{ page|looks_in_words }}  {{ page|together_in_words }}   what the records say of checks and of changes
{{ work|missing_in_words }}     costs that nobody has said
{{ places|kinds_in_words }}  {{ places|designs_in_words }}
{{ ends|money_span }}           1,775 to 1,790
"""

import numpy as np
from django import template

from fleet.figures import PERCENT
from fleet.parsing.counts import counted, listed

from ..numeric.words import Clock
from .figures import figure
from .life_text import age_in_words
from .limit_text import BEYOND, NEVER

register = template.Library()

NOT_BY_AGE = "do not change by age"
# from here on nobody counts hundredths
WHOLE_FROM, SPAN_WHOLE_FROM = 100, 10
# less than that is not worth another rule: a twentieth, as the range of ages that are nearly as cheap
NEARLY = 0.05
# in years
MANY_YEARS = 10
# of a hundred none is left of it
FEW = 0.005


@register.filter
def money(value):
    """In whatever the pool pays: whole from 100 on, with hundredths below."""
    return f"{value:,.0f}" if abs(value) >= WHOLE_FROM - 0.5 else f"{value:,.2f}"


@register.filter
def money_span(ends):
    """Of the least and the most that an event costs; one number where they say the same."""
    ends = sorted(map(float, ends))
    low, high = (f"{end:,.0f}" if ends[-1] >= SPAN_WHOLE_FROM else money(end) for end in ends)
    return low if low == high else f"{low} to {high}"


@register.filter
def cost_in_short(page):
    if not page.limits.has_fit:
        return "No cost can be told yet: the readings do not make a trend of the pool."
    if page.work.missing:
        return "What a rule costs can be told once you have said what work and a missed read cost you."
    if not page.rows:
        return "Nothing can be told yet: see below what is missing."
    today = f"Today’s limits cost {money_span(page.today)} a year for {counted(page.cables, 'cable')}."
    if not _saves(page):
        return f"{today} No other age is worth the change: it would save less than a twentieth."
    return f"{today} The cheapest ages cost {money_span(page.more)} less ({_sure(*page.more_interval)})."


def _sure(low, high):
    """An interval that reaches below nought: by what the trend's numbers may be, today's limits may be cheaper."""
    return f"90{PERCENT} sure: {money_span((low, high)) if low > 0 else f'at most {money(high)}'}"


def _saves(page):
    return bool((page.more >= NEARLY * page.today).any())


@register.filter
def cables_in_short(page):
    today, best = (
        f"{min(ends):.0f}" if round(min(ends)) == round(max(ends)) else f"{min(ends):.0f} to {max(ends):.0f}"
        for ends in page.changes
    )
    noun = "cable" if today == "1" else "cables"
    return f"That is {today} {noun} a year today, and {best} at the cheapest ages."


@register.filter
def cheapest_in_words(row, page):
    words = age_span(row.best.age, page.clock)
    return f"{words}, {BEYOND}" if _is_beyond(row, page) else words


def _is_beyond(row, page):
    return page.limit_of(row.place).watched_until < row.best.age.min()


def age_span(ages, clock):
    """From the age if an event costs the most to the one if it costs the least."""
    low, high = min(map(float, ages)), max(map(float, ages))
    if not np.isfinite(low):
        return NOT_BY_AGE
    return _span(low, high, clock) if np.isfinite(high) else f"{about(low, clock)}, or {NOT_BY_AGE}"


def age_between(low, high, clock):
    """A span whose ends are known or open: `from 7 years on`."""
    if not np.isfinite(low):
        return NEVER[clock]
    return _span(low, high, clock) if np.isfinite(high) else f"from {about(low, clock)} on"


def about(age, clock):
    """Whole years from ten on, for nobody knows an age that far away to the month."""
    if clock == Clock.EVENTS or age < MANY_YEARS:
        return age_in_words(age, clock)
    return f"{round(age)} years"


def _span(low, high, clock):
    first, last = about(low, clock), about(high, clock)
    if first == last:
        return first
    unit = f" {clock}"
    same_unit = first.endswith(unit) and last.endswith(unit) and first.count(" ") == last.count(" ") == 1
    return f"{first.removesuffix(unit) if same_unit else first} to {last}"


@register.filter
def cost_act(row, page):
    return f"{_act(row)}{_limit_by_length(row, page)}"


def _act(row):
    today, best = row.place.today, row.best
    if not row.place.cables:
        return "None in service."
    if (row.today_cost - best.cost <= NEARLY * best.cost).all():
        return "As today: no age is cheaper by more than a twentieth."
    if not np.isfinite(best.age).any():
        return "Changing by age costs more than waiting until they are over."
    if best.age.max() < today:
        return "Change earlier."
    if best.age.min() > today:
        return "Leave longer, step by step."
    return "It depends on what an event costs."


def _limit_by_length(row, page):
    """Where it comes before the cheapest age, for that one asks only for money."""
    limit = page.limit_of(row.place).age
    if not limit < row.best.age.max():
        return ""
    words = about(limit, page.clock)
    if limit < row.place.today:
        return f" But the limit by length is {words}."
    return f" But not beyond the limit by length, {words}."


@register.filter
def over_in_words(shares):
    low, high = (f"{round(100 * share)}" if share >= FEW else "fewer than 1" for share in (min(shares), max(shares)))
    return f"{high} of 100" if low == high else f"{low} to {high} of 100"


@register.filter
def looks_in_words(page):
    looks = page.looks
    if not looks.readings:
        return "No cable was read in the last two years, so one that is over stays until it is changed by its limit."
    return (
        f"One that is over is found when it is read. In the last two years a cable was read {looks.a_year:.2g} times a "
        f"year ({counted(looks.readings, 'reading')} that left no doubt), and it is taken that readings come at random."
    )


@register.filter
def together_in_words(page):
    found = page.together
    if not found.days:
        return "No cable was ever changed, so each change bears the work of opening its mat alone."
    return (
        f"A planned change shares the work of opening its mat: this pool changed {found.mean:.2g} cables a mat and day "
        f"({counted(found.cables, 'cable')}). One that is found over is changed alone."
    )


@register.filter
def missing_in_words(work):
    """The costs that nobody has said, as they are called below."""
    labels = listed([f"“{setting.label}”" for setting in work.missing])
    return f"{labels} {'is' if len(work.missing) == 1 else 'are'} not known"


@register.filter
def kinds_in_words(places):
    """0.4, 0.75 and 1.1 m thin"""
    by_type = {}
    for place in places:
        by_type.setdefault(place.cable_type, set()).add(place.length_m)
    return listed([f"{listed(list(map(figure, sorted(lengths))))} m {name}" for name, lengths in by_type.items()])


@register.filter
def designs_in_words(places):
    return listed(list(dict.fromkeys(str(place.design) for place in places)))
