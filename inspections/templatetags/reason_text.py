"""Reasons in words, as data, in one place for every page and sheet: `{% load reason_text %}`, then

{{ row|why }}                       what an Assessment's status rests on
{{ row|also }}                      the other causes that it has reached, in short; empty without one
{{ row|newest_loss }}         the newest reading that can be compared
{{ row|beside_age }}                what was measured where age or events alone are the cause
{% for reason in row|reasons %}{{ reason|in_words }}{% endfor %}     every cause of it, the deciding one first
{{ reason|cause_name }}

How sure a reason is, and its cells in the table of causes: `cause_text`.
"""

import re
from dataclasses import replace

from django import template

from fleet.choices import FittedBasis
from fleet.figures import NOT_WITHIN, YEARS_AHEAD

from ..assessment import reasons as data
from ..numeric.words import Cause, EventsBasis, MeasureReason, NoDateReason, TrendFrom, Verdict
from .figures import ago, counted, percent, risk, short_day, two_places, years_and_months

register = template.Library()
_REMARK = re.compile(r" \([^)]*\)")


@register.filter
def reasons(row):
    return data.reasons(row)


@register.filter
def dating_reason(row):
    return data.dating_reason(row) if row else None


def stored_reasons(stored):
    """The reasons stored with a line of a work order."""
    return [data.Reason.from_json(reason) for reason in stored]


@register.filter
def why(row):
    reason = data.deciding_reason(row)
    return in_words(reason) if reason else "no cause has a date"


@register.filter
def also(row):
    """The causes reached beside the one that the status rests on, in short: `also 3.42 dB, 3 years old`."""
    return _also(data.other_reached(row))


def stored_also(stored):
    """The same of the reasons stored with a line of a work order."""
    return _also([reason for reason in stored_reasons(stored)[1:] if reason.reached])


def stored_reading(stored):
    """The last reading of the old cable, where the reasons do not lead with it; '' without one on record."""
    reading = next((reason for reason in stored_reasons(stored)[1:] if reason.cause == Cause.LOSS), None)
    if reading is None:
        return ""
    if reading.day is None:
        return "not measured"
    return f"last read {read_loss(reading)}, {short_day(reading.day)}"


def read_loss(reason):
    """What a reason says was read: a loss, no signal, or the word of a go/no-go tester."""
    if reason.by_word:
        return f"{reason.basis} by a go/no-go tester"
    return "no signal" if reason.value is None else f"{two_places(reason.value)} dB"


@register.filter
def newest_loss(row):
    """The newest reading that can be compared of an Assessment, as cells show it."""
    if row.measured_on is None:
        return "not measured"
    if row.go_no_go:
        return f"{row.verdict} (go/no-go)"
    return "no signal" if row.reference_loss_db is None else f"{two_places(row.reference_loss_db)} dB"


def _also(others):
    return f"also {', '.join(_IN_SHORT[reason.cause](reason) for reason in others)}" if others else ""


@register.filter
def beside_age(row):
    """What is known of the loss of a cable that is to be changed by its age or its events alone; '' of any other."""
    if not row.is_due or row.gravity != Cause.AGE.gravity:
        return ""
    if row.measured_on is None:
        return "not measured"
    near = ", too close to the limit" if row.verdict == Verdict.UNDECIDED else ""
    return f"measured {newest_loss(row)} {ago(row.measured_on, row.assessed_on)}{near}"


def stored_why(stored):
    """The leading one of the reasons stored with a line of a work order, as short as paper wants it.

    Of a trend the chance stays, and whose readings speak.
    """
    reason = stored_reasons(stored)[0] if stored else None
    if reason is None:
        return ""
    if reason.cause == Cause.TREND and reason.due_on:
        return f"{_chance_over(reason)}{_whose(reason)}"
    if reason.cause == Cause.EVENTS and reason.due_on:
        return f"limit of {reason.limit:g} events on {short_day(reason.due_on)}"
    return _REMARK.sub("", in_words(reason))


@register.filter
def in_words(reason):
    return _SENTENCES[reason.cause](reason)


@register.filter
def cause_name(reason):
    return reason.cause.capitalize()


def _age(reason):
    if not reason.limit:
        return "no age limit"
    old, day = years_and_months(reason.limit), short_day(reason.due_on)
    if reason.far:
        return f"{old} old in more than {YEARS_AHEAD} years"
    if not reason.applies:
        return f"its own readings decide; by age it would be due on {day}"
    sentence = {
        FittedBasis.ABOUT: f"about {old} old on {day}",
        FittedBasis.NOT_LATER_THAN: f"{old} old or more on {day}",
    }.get(reason.basis, f"{old} old on {day}")
    return f"{sentence} (limit {old})"


def _events(reason):
    if not reason.limit:
        return f"no event limit ({counted(reason.value, 'event')} so far)"
    if not reason.applies:
        return f"its own readings decide ({reason.value:g} of {counted(reason.limit, 'event')} so far)"
    limit, so_far, day = f"{reason.limit:g}", counted(reason.value, "event") + " so far", short_day(reason.due_on)
    sentence = {
        EventsBasis.REACHED: f"limit of {limit} events reached on {day} ({so_far})",
        EventsBasis.PLANNED: f"limit of {limit} events expected at {_place_in_plan(reason)} ({so_far})",
        EventsBasis.USUAL_RATE: f"limit of {limit} events {_about(reason, day)} at the usual rate ({so_far})",
    }.get(reason.basis, f"{reason.value:g} of {limit} events, no date: the mat did not go out in the last year")
    return sentence + (f"; {reason.not_confirmed:g} not confirmed" if reason.not_confirmed else "")


def _about(reason, day):
    return NOT_WITHIN if reason.far else f"expected about {day}"


def _place_in_plan(reason):
    return reason.event or f"the event of {short_day(reason.due_on)}"


def _loss(reason):
    if reason.day is None:
        return "not measured"
    if reason.by_word:
        return _by_word(reason)
    if reason.value is None:
        return f"no signal on {short_day(reason.day)}: open or broken"
    measured = f"{two_places(reason.value)} dB measured on {short_day(reason.day)}, limit {reason.limit:g} dB"
    return measured + (": too close to the limit, measure again" if reason.basis == Verdict.UNDECIDED else "")


def _by_word(reason):
    """The tester decides only where it is set sharp enough for the limit."""
    if reason.basis == Verdict.UNDECIDED:
        return f"the go/no-go tester of {short_day(reason.day)} is not set to {reason.limit:g} dB: measure the loss"
    return f"{reason.basis} by a go/no-go tester on {short_day(reason.day)}, limit {reason.limit:g} dB"


def _trend(reason):
    if reason.due_on is None:
        return f"no date by trend: {NO_TREND[reason.basis]}"
    if reason.far:
        accepted = "what is accepted" if reason.accepted is None else f"the accepted risk of {risk(reason.accepted)}"
        return f"{_chance_over(reason)}, does not reach {accepted} within {YEARS_AHEAD} years{_whose(reason)}"
    return f"{_chance_over(reason)}, {_past_or_not_yet(reason)} {short_day(reason.due_on)}{_whose(reason)}"


def _whose(reason):
    return " (from similar cables)" if reason.basis == TrendFrom.SIMILAR else ""


def _past_or_not_yet(reason):
    if reason.accepted is None:
        return "too high from"
    if reason.value is not None and reason.value < reason.accepted:
        return f"reaches the accepted risk of {risk(reason.accepted)} on"
    return f"above the accepted risk of {risk(reason.accepted)} since"


def _chance_over(reason):
    if reason.value is None:
        return f"may be over {reason.limit:g} dB"
    return f"{percent(reason.value)} likely to be over {reason.limit:g} dB"


def _damage(reason):
    return f"{reason.basis} fault reported on {short_day(reason.due_on)}"


def _measure(reason):
    return {
        MeasureReason.UNDECIDED: _loss(replace(reason, basis=Verdict.UNDECIDED)),
        MeasureReason.DOUBTFUL: f"the reading of {short_day(reason.day)} is doubtful",
        MeasureReason.NO_LINE: "the newest reading lies far from what was expected: measure again, the date stands",
        MeasureReason.FALLING: "the readings fall, but wear only raises the loss",
        MeasureReason.NEVER_MEASURED: "not measured",
        MeasureReason.LONG_AGO: f"last measured on {short_day(reason.day)}, longer ago than the policy allows",
        MeasureReason.SIMILAR_DUE: f"{_chance_over(reason)}, estimated from similar cables and not measured",
    }[reason.basis]


_IN_SHORT = {
    Cause.DAMAGE: lambda reason: f"{reason.basis} fault",
    Cause.LOSS: read_loss,
    Cause.TREND: lambda reason: f"{percent(reason.value)} likely over" if reason.value else "over by trend",
    Cause.EVENTS: lambda reason: f"{reason.value:g} of {counted(reason.limit, 'event')}",
    Cause.AGE: lambda reason: f"{years_and_months(reason.limit)} old",
}
_SENTENCES = {
    Cause.AGE: _age,
    Cause.EVENTS: _events,
    Cause.LOSS: _loss,
    Cause.TREND: _trend,
    Cause.DAMAGE: _damage,
    data.MEASURE: _measure,
}
NO_TREND = {
    NoDateReason.AGE_NOT_KNOWN: "its age is not known",
    NoDateReason.TOO_FEW_READINGS: "the pool has too few readings yet",
    NoDateReason.ONE_TIME: "all readings were taken at one age of the cables, so no rise shows yet",
    NoDateReason.NOT_SETTLED: "it has too few readings to show how fast it wears",
    NoDateReason.STANDS_STILL: "its mat went to no event in the last year, and none is planned",
    NoDateReason.FALLING: "the readings fall, but wear only raises the loss",
    NoDateReason.SIMILAR_FALLING: "the readings of similar cables fall, but wear only raises the loss",
    NoDateReason.NO_FIT: "a value on record lies too far from all others to calculate with",
    NoDateReason.LATER: "the limit is reached later than 40 years after fitting",
}
