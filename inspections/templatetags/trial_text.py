"""Rules against each other in words: `{% load trial_text %}`, then

{{ page|trial_in_short:found }}  which rule beats today's limits, and what today's limits do
{{ page|why_no_trial }}       why nothing can be played
{{ question|what_is_played }} on what, as a sentence
"""

from django import template

from fleet.parsing.counts import counted, listed

from ..numeric.words import Clock
from ..rule_trial.tables import mean_stay, spread_in_words
from .figures import percent
from .life_text import age_in_words

register = template.Library()


@register.filter
def trial_in_short(page, found):
    (_, today), *others = found.answers
    return " ".join([_of_today(today), "" if found.waiting or not today.events else _of_others(page, others)]).strip()


def _of_today(today):
    used = f"Today’s limits take {spread_in_words(today.cables)} cables a year"
    if not today.events:
        return f"{used}. How often mats go is not on record, so nothing is said of events."
    at_risk = f"{spread_in_words(today.events_over)} of {today.events:.0f} times"
    return f"{used}. At events a mat has a cable over {at_risk} ({percent(today.events_over.mean / today.events)})."


def _of_others(page, others):
    better = [(name, answer) for name, answer in others if _beats_today(answer)]
    if not better:
        return f"No rule below is surely better in both. {_least_at_risk(others)}"
    name, answer = min(better, key=lambda each: each[1].cables.mean)
    saved, fewer = (spread_in_words(_turned(spread)) for spread in (answer.more_cables, answer.more_events_over))
    also = [f"“{other.words}”" for other, _ in better if other != name]
    sentences = [
        f"Better in both is “{name.words}”: {saved} fewer cables a year, and {fewer} fewer times with a cable over.",
        f"So {'are' if len(also) > 1 else 'is'} {listed(also)}." if also else "",
        _beyond_what_was_watched(page, answer),
    ]
    return " ".join(filter(None, sentences))


def _beyond_what_was_watched(page, answer):
    """What is saved lies where nobody looked yet."""
    watched, stay = page.limits.watched_until_years, mean_stay(answer, len(page.question.places))
    if stay <= watched:
        return ""
    known = f"none was watched beyond {age_in_words(watched, Clock.YEARS)}" if watched else "none was watched yet"
    return (
        f"But under it cables stay in for {stay:.0f} years, and {known}: that is the trend drawn out. "
        "Go there step by step, and read the oldest ones first."
    )


def _least_at_risk(others):
    name, answer = min(others, key=lambda each: (each[1].events_over.mean, each[1].cables.mean))
    times, cables = spread_in_words(answer.events_over), spread_in_words(answer.cables)
    return f"Least at risk is “{name.words}”: {times} times with a cable over, for {cables} cables a year."


def _beats_today(answer):
    """Fewer cables, and no more events with a cable over, whatever the readings leave open."""
    return answer.more_cables.high < 0 and answer.more_events_over.high <= 0


def _turned(spread):
    return spread._replace(mean=-spread.mean, low=-spread.high, high=-spread.low)


@register.filter
def why_no_trial(page):
    if not page.limits.has_fit:
        return "The readings do not make a trend of the pool yet, so no rule can be played."
    if page.falls:
        return "By the readings wear falls, which it cannot. As long as it does, no rule can be played."
    return "No cable is in service, so there is nothing to play a rule on."


@register.filter
def what_is_played(question):
    mats = question.places.mats
    played = f"{counted(len(question.places), 'position')} of {counted(mats, 'mat')}"
    own = "each with its own lengths and as many events a year as it had in the last one"
    if question.fewest_mats == mats:
        return f"{played}, {own}."
    return f"{played}, {own}; {question.fewest_mats} or more of them, from the most used to the least, stand for all."
