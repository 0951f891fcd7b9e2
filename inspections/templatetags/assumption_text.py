"""Assumptions in words: `{% load assumption_text %}`, then

{% with assumptions=page_of_assumptions|of:row %}…{% endwith %}
{{ assumptions|in_short }}                  what a row of the due list assumes
{% for each in assumptions.each %}{{ each|assumption_in_words }}{% endfor %}   each, and how the date moves within it
{{ assumptions|ask_in_words }}              the one fact that would help most
"""

from django import template
from django.utils.formats import date_format

from fleet.parsing.approximate_dates import span_in_words

from ..assessment import assumptions as data
from .figures import counted, short_day

register = template.Library()


@register.filter
def of(assumptions, row):
    """The Assumptions of one row, out of those that `assumptions_of` read for a whole page."""
    return assumptions[row.segment_id]


@register.filter
def in_short(assumptions):
    return "; ".join(_SHORT[assumption.kind](assumption) for assumption in assumptions.each)


@register.filter
def assumption_in_words(assumption):
    return _SENTENCES[assumption.kind](assumption)


@register.filter
def ask_in_words(assumptions):
    return _ASKS.get(assumptions.ask, "")


def rough_day(assumption):
    """The month, season or year that was given; the day where it is not on record how roughly it is known."""
    span = assumption.span
    if span is None:
        return short_day(assumption.day)
    of_month = (span.first.year, span.first.month) == (span.last.year, span.last.month)
    return date_format(span.first, "F Y") if of_month else span_in_words(span)


def _about(assumption):
    said = f"Fitted about {rough_day(assumption)}"
    if not assumption.estimated:
        return f"{said}. How rough that is was not recorded, so it is not known how far the date may move."
    if not assumption.moves:
        return f"{said}. {_stays('Whichever day it was,', assumption)}"
    return f"{said}, so due between {short_day(assumption.due_from)} and {short_day(assumption.due_to)}."


def _not_later_than(assumption):
    latest = f"Due on {short_day(assumption.due_to)} at the latest" if assumption.due_to else "No date can be given"
    return f"Fitted on or before {short_day(assumption.day)}. {latest}, and it may be due already."


def _reported(assumption):
    if assumption.events:
        some = f"{assumption.events} of its {assumption.of_events} events {'is' if assumption.events == 1 else 'are'}"
    else:
        some = "How often it goes out is"
    said = f"{some} reported, assumed or usual use, not counted one by one."
    if not assumption.estimated:
        return f"{said} {_BY_PLAN}"
    if not assumption.moves:
        return f"{said} {_stays('With a quarter more or a quarter fewer,', assumption)}"
    return f"{said} With a quarter more {_due(assumption.due_from)}, with a quarter fewer {_due(assumption.due_to)}."


def _not_confirmed(assumption):
    said = f"{counted(assumption.events, 'event')} not confirmed."
    if not assumption.estimated:
        return f"{said} {_BY_PLAN}"
    if not assumption.moves:
        return f"{said} {_stays('If none took place,', assumption)}"
    return f"{said} If none took place, {_due(assumption.due_to)}."


def _no_use(assumption):
    return "No event of its mat is recorded: by events it may be due earlier."


def _stays(when, assumption):
    return (
        f"{when} the date stays {short_day(assumption.due_to)}."
        if assumption.due_to
        else f"{when} there is still no date."
    )


def _due(day):
    return f"due on {short_day(day)}" if day else "no date"


_BY_PLAN = "The date itself follows from planned events."
_SENTENCES = {
    data.ABOUT: _about,
    data.NOT_LATER_THAN: _not_later_than,
    data.REPORTED: _reported,
    data.NOT_CONFIRMED: _not_confirmed,
    data.NO_USE: _no_use,
}
_SHORT = {
    data.ABOUT: lambda assumption: f"fitted about {rough_day(assumption)}",
    data.NOT_LATER_THAN: lambda assumption: f"fitted on or before {short_day(assumption.day)}",
    data.REPORTED: lambda assumption: "events not counted one by one",
    data.NOT_CONFIRMED: lambda assumption: f"{counted(assumption.events, 'event')} not confirmed",
    data.NO_USE: lambda assumption: "no event recorded",
}
_ASKS = {
    data.WHEN_FITTED: "When was it fitted? That would help most.",
    data.ONE_MEASUREMENT: "One measurement would settle it.",
    data.HOW_OFTEN: "How often does its mat go out? Logging its events would help most.",
    data.DID_IT_GO: "Did its mat go to the events that are to be confirmed? Answering would help most.",
}
