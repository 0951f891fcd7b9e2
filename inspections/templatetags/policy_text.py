"""What the policy does, in sentences: `{% load policy_text %}`, then

{{ preview|in_short }}  {{ sound|sound_in_words }}  {{ seldom|seldom_in_words:on }}  {{ months|months }}
{{ seldom|twice_the_limit }}  {{ seldom|longest_first:design }}      queries that fill in the pages of the policy
"""

from django import template
from django.utils.http import urlencode

from fleet.parsing.durations import months_in_words

from .figures import counted, figure, how_long_before

register = template.Library()
register.filter("months", months_in_words)


@register.filter
def in_short(preview):
    """How many cables are due now and would be then, of a Preview."""
    cables = counted(preview.total, "cable")
    if preview.due_now == preview.due_then:
        return f"As many cables would be due as now: {preview.due_now} of {cables}."
    return f"Of {cables}, {preview.due_now} {_are(preview.due_now)} due now and {preview.due_then} would be then."


@register.filter
def sound_in_words(sound):
    """Of a MeasuredSound."""
    many = f"{counted(sound.cables, 'cable')} {_are(sound.cables)} due by age or events alone"
    said = f"{many}, though the newest reading of each is within the limit."
    if not sound.with_own_say:
        return f"{said} Their readings do not show yet how their loss rises. Measure them again on another day."
    whose = "all of them" if sound.with_own_say == sound.cables else f"{sound.with_own_say} of them"
    return f"{said} For {whose} their own readings could decide instead."


@register.filter
def seldom_in_words(seldom, on):
    """Of a SeldomUsed."""
    limit = months_in_words(seldom.limit_months)
    these = "This mat" if seldom.mats == 1 else "These mats"
    said = [
        f"{counted(seldom.cables, 'cable')} in {counted(seldom.mats, 'mat')} {_are(seldom.cables)} due by age alone.",
        f"The limit of {limit} is meant for mats that go out every week.",
        f"{these} went out about {_between(seldom.times_a_year, 'time')} in the last year,",
        f"and about {_between(seldom.outings, 'time')} since the cables were fitted.",
    ]
    if seldom.by_use_on and seldom.by_use_on > on:
        said.append(f"By use alone none of them is due for {how_long_before(on, seldom.by_use_on)}.")
    return " ".join(said)


@register.filter
def twice_the_limit(seldom):
    return _query({"pool.age_limit_years": months_in_words(seldom.twice_the_limit_months)})


@register.filter
def longest_first(seldom, design):
    """The long positions keep the limit that the others have twice of."""
    return _query(
        {
            f"design-{design.pk}.age_limit_years": months_in_words(seldom.twice_the_limit_months),
            "longer_than_m": figure(seldom.long_m),
            "age_limit_years": months_in_words(seldom.limit_months),
        }
    )


def _query(values):
    return f"?{urlencode(values)}"


def _between(span, word):
    fewest, most = span
    return counted(most, word) if fewest == most else f"{fewest} to {counted(most, word)}"


def _are(number):
    return "is" if number == 1 else "are"
