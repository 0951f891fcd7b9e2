"""Turns guesses into sentences: `{% load guess_words %}`, then

{% with guesses=page_of_guesses|of:row %}…{% endwith %}
{{ guesses|in_short }}                  what a line of the due list assumes
{% for guess in guesses.each %}{{ guess|guess_in_words }}{% endfor %}     each guess and how the date moves within it
{{ guesses|ask_in_words }}              the one fact that would help most
"""

from django import template
from django.utils.formats import date_format

from ..assessment import assumptions as data
from .words import short_day

register = template.Library()


@register.filter
def of(guesses, row):
    """Those of one assessment, from what `guesses_of` gave for a page of them."""
    return guesses[row.segment_id]


@register.filter
def in_short(guesses):
    return "; ".join(_SHORT[guess.kind](guess) for guess in guesses.each)


@register.filter
def guess_in_words(guess):
    return _SENTENCES[guess.kind](guess)


@register.filter
def ask_in_words(guesses):
    return _ASKS.get(guesses.ask, "")


def rough_day(guess):
    """The month or the year that was told; the day where it is not on record how roughly it is known."""
    if guess.span is None:
        return short_day(guess.day)
    of_year = guess.span.first.month != guess.span.last.month
    return date_format(guess.span.first, "Y" if of_year else "F Y")


def _about(guess):
    said = f"Fitted about {rough_day(guess)}"
    if not guess.reckoned:
        return f"{said}; how roughly that is known is not on record, and by as much the date may move."
    return f"{said}: {_range(guess, 'the date would still be', 'so due between')}"


def _not_later_than(guess):
    latest = f"due on {short_day(guess.due_to)} at the latest" if guess.due_to else "no date can be given"
    return f"Fitted on {short_day(guess.day)} or any time before: {latest}, and it may be due already."


def _reported(guess):
    if guess.events:
        said = f"{guess.events} of its {guess.of_events} events are reported or assumed, not counted"
    else:
        said = "How often it goes out is reported, not counted"
    if not guess.reckoned:
        return f"{said}; the date itself follows from planned events."
    if not guess.moves:
        return f"{said}: {_kept(guess, 'with a quarter more or fewer the date would still be')}"
    return f"{said}: with a quarter more {_due(guess.due_from)}, with a quarter fewer {_due(guess.due_to)}."


def _not_confirmed(guess):
    said = f"{guess.events} event{'' if guess.events == 1 else 's'} not confirmed"
    if not guess.reckoned:
        return f"{said}; the date itself follows from planned events."
    if not guess.moves:
        return f"{said}: {_kept(guess, 'had none taken place, the date would still be')}"
    return f"{said}: had none taken place, {_due(guess.due_to)}."


def _no_use(guess):
    return "Nothing is on record of how often its mat goes out: by events it may be due earlier."


def _range(guess, same, between):
    if not guess.moves:
        return _kept(guess, same)
    return f"{between} {short_day(guess.due_from)} and {short_day(guess.due_to)}."


def _kept(guess, words):
    return f"{words} {short_day(guess.due_to) or 'unknown'}."


def _due(day):
    return f"due on {short_day(day)}" if day else "no date"


_SENTENCES = {
    data.ABOUT: _about,
    data.NOT_LATER_THAN: _not_later_than,
    data.REPORTED: _reported,
    data.NOT_CONFIRMED: _not_confirmed,
    data.NO_USE: _no_use,
}
_SHORT = {
    data.ABOUT: lambda guess: f"fitted about {rough_day(guess)}",
    data.NOT_LATER_THAN: lambda guess: f"fitted not later than {short_day(guess.day)}",
    data.REPORTED: lambda guess: "use reported, not counted",
    data.NOT_CONFIRMED: lambda guess: f"{guess.events} not confirmed",
    data.NO_USE: lambda guess: "no use on record",
}
_ASKS = {
    data.WHEN_FITTED: "When was it fitted? That would help most.",
    data.ONE_MEASUREMENT: "One measurement would settle it.",
    data.HOW_OFTEN: "How often does its mat go out? Logging its events would help most.",
    data.DID_IT_GO: "Did its mat go to the events that wait for an answer? That would help most.",
}
