"""Turns reasons into sentences, in one place for the due list, the segment page, the work order and the first page.

In a template: `{% load words %}`, then
  {{ row|why }}                                      what an Assessment's standing rests on
  {% for reason in row|reasons %}{{ reason|in_words }}{% endfor %}      every cause of it, the deciding one first
  {% for reason in line.reasons|kept_reasons %}…     the reasons that a work order line keeps
  {{ reason|cause_name }}  {{ day|short_day }}  {{ row.measured_on|how_long_before:row.assessed_on }}
"""

from dataclasses import replace

from django import template
from django.utils.formats import date_format

from ..choices import Cause, EventsBasis, MeasureBecause, Standing, Verdict
from ..selectors import reasons as data

register = template.Library()


@register.filter
def short_day(day):
    return date_format(day, "j M Y") if day else ""


@register.filter
def how_long_before(day, on):
    """Whole days below two months, months below two years, then years; floored."""
    days = (on - day).days
    if days == 0:
        return "today"
    if days < 61:
        return _counted(days, "day")
    months = (on.year - day.year) * 12 + on.month - day.month - (on.day < day.day)
    return _counted(months, "month") if months < 24 else _counted(months // 12, "year")


@register.filter
def reasons(row):
    return data.reasons(row)


@register.filter
def kept_reasons(stored):
    return [data.Reason.from_json(reason) for reason in stored]


@register.filter
def why(row):
    reason = data.deciding_reason(row)
    return in_words(reason) if reason else "no cause has a date"


@register.filter
def in_words(reason):
    return _SENTENCES[reason.cause](reason)


@register.filter
def cause_name(reason):
    return reason.cause


@register.filter
def needs_change(row):
    """The standing asks for a new segment, now or by a day that is known."""
    return row.standing in (Standing.CHANGE_NOW, Standing.CHANGE_BEFORE, Standing.CHANGE_SOON)


def _counted(number, word):
    return f"{number:g} {word}{'' if number == 1 else 's'}"


def _age(reason):
    old = _counted(reason.limit, "year")
    day = short_day(reason.due_on)
    by_basis = {
        "known": f"{old} old on {day} (limit {old})",
        "about": f"{old} old about {day} (limit {old})",
        "not later than": f"{old} old on {day} at the latest (limit {old}, age not known)",
    }
    return by_basis[reason.basis]


def _events(reason):
    limit = _counted(reason.limit, "event")
    sentence = {
        EventsBasis.REACHED: f"{limit} reached on {short_day(reason.due_on)} ({reason.value:g} so far)",
        EventsBasis.PLANNED: f"limit of {limit} expected at {_place_in_plan(reason)} ({reason.value:g} so far)",
        EventsBasis.USUAL_RATE: f"limit of {limit} about {short_day(reason.due_on)} at the usual rate"
        f" ({reason.value:g} so far)",
    }.get(reason.basis, f"{reason.value:g} of {limit}, no date: the mat did not go out in the last year")
    return sentence + (f"; {reason.not_confirmed:g} not confirmed" if reason.not_confirmed else "")


def _place_in_plan(reason):
    return reason.event or f"the event of {short_day(reason.due_on)}"


def _loss(reason):
    if reason.day is None:
        return "never measured"
    if reason.value is None:
        return f"no through on {short_day(reason.day)}: the signal does not pass"
    measured = f"{reason.value:.2f} dB measured on {short_day(reason.day)}, limit {reason.limit:g} dB"
    return measured + (": too close to tell" if reason.basis == Verdict.UNDECIDED else "")


def _damage(reason):
    return f"{reason.basis} fault reported on {short_day(reason.due_on)}"


def _measure(reason):
    return {
        MeasureBecause.UNDECIDED: _loss(replace(reason, basis=Verdict.UNDECIDED)),
        MeasureBecause.DOUBTFUL: f"the reading of {short_day(reason.day)} is doubtful",
        MeasureBecause.NO_LINE: "the readings do not follow a line",
        MeasureBecause.FALLING: "the readings fall, and wear does not heal",
        MeasureBecause.NEVER_MEASURED: "never measured",
        MeasureBecause.LONG_AGO: f"last measured on {short_day(reason.day)}",
        MeasureBecause.KIND_ONLY: "cables of its kind are due, and it was not measured itself",
    }[reason.basis]


_SENTENCES = {
    Cause.AGE: _age,
    Cause.EVENTS: _events,
    Cause.LOSS: _loss,
    Cause.DAMAGE: _damage,
    data.MEASURE: _measure,
}
