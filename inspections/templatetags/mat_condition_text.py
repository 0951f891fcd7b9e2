"""The condition of a mat in words: `{% load mat_condition_text %}`, then

{{ status|mat_status }}            of a status of mats: should not go, change before an event, measure
{{ condition|mat_why:days }}       why, in short; `days`: the look-ahead
{{ condition|places_in_words }}    its positions by their status, as a picture of them says it aloud
"""

from django import template

from fleet.parsing.counts import counted, in_runs

from ..assessment.unfit import doubts_in_words
from ..numeric.words import Status

register = template.Library()
_STATUSES = {
    Status.CHANGE_NOW: "should not go",
    Status.CHANGE_BEFORE: "change before an event",
    Status.CHANGE_SOON: "change soon",
    Status.MEASURE: "measure",
    Status.UNKNOWN: "unknown",
    Status.OK: "OK",
}


@register.filter
def mat_status(status):
    return _STATUSES.get(status, "")


@register.filter
def mat_why(condition, days):
    """What asks for something, the worst first; "" where nothing does."""
    return ", ".join(filter(None, [_worst(condition, days), *_beside(condition)]))


def _worst(condition, days):
    cables = condition.cables
    if condition.unfit:
        return str(condition.unfit)
    if before := cables[Status.CHANGE_BEFORE]:
        return f"{counted(before, 'cable')} before {condition.event}"
    if soon := cables[Status.CHANGE_SOON]:
        return f"{counted(soon, 'cable')} within {counted(days, 'day')}"
    return ""


def _beside(condition):
    """What comes after that, and what is not known of it."""
    cables = condition.cables
    if condition.unfit and cables[Status.CHANGE_BEFORE]:
        yield f"{cables[Status.CHANGE_BEFORE]} before {condition.event}"
    yield from doubts_in_words(cables)


@register.filter
def places_in_words(condition):
    by_status = {}
    for place in condition.places:
        by_status.setdefault(place.status, []).append(place.number)
    in_turn = sorted(by_status.items(), key=lambda each: each[0].order if each[0] else 0)
    return "; ".join(f"{in_runs(numbers)} {status or 'empty'}" for status, numbers in in_turn)
