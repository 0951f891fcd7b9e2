"""Turns reasons into sentences, in one place for the due list, the segment page, the work order and the first page.

In a template: `{% load words %}`, then
  {{ row|why }}                                      what an Assessment's status rests on
  {% for reason in row|reasons %}{{ reason|in_words }}{% endfor %}      every cause of it, the deciding one first
  {% for reason in line.reasons|kept_reasons %}…     the reasons that a work order line keeps
  {{ counts|counts_in_words }}  {{ reason|cause_name }}  {{ day|short_day }}  {{ length_m|figure }}
  {{ row.measured_on|how_long_before:row.assessed_on }}
"""

import re
from dataclasses import replace

from django import template
from django.utils.formats import date_format

from fleet.choices import FittedBasis

from ..assessment import reasons as data
from ..numeric.words import Cause, EventsBasis, MeasureReason, NoDateReason, NoModelReason, Status, TrendFrom, Verdict

register = template.Library()
ROOM_ON_PAPER = 52
_REMARK = re.compile(r" \([^)]*\)")
# no line ends between a number and its sign
PERCENT = "\N{NO-BREAK SPACE}%"


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
def kept_why(stored):
    """The deciding one of the reasons that a work order line keeps; where paper has no room, without its remark.

    The remark on a trend stays: it says whose readings speak.
    """
    reason = kept_reasons(stored)[0] if stored else None
    sentence = in_words(reason) if reason else ""
    if len(sentence) <= ROOM_ON_PAPER or reason.cause == Cause.TREND:
        return sentence
    return _REMARK.sub("", sentence)


@register.filter
def in_words(reason):
    return _SENTENCES[reason.cause](reason)


@register.filter
def no_pool(reason):
    """Why there is no trend of the pool."""
    return _NO_POOL[reason]


@register.filter
def cause_name(reason):
    return reason.cause.capitalize()


@register.filter
def order_status(order, on):
    """open, void or withdrawn."""
    return order.status_on(on)


@register.filter
def part_of(line, sheet):
    """What goes into the position of a work order line, as its sheet says."""
    return next((position for position in sheet["positions"] if position["position"] == line.position), {})


@register.filter
def day_by_name(day, on):
    """today, tomorrow, Saturday; further away the date."""
    days = (day - on).days
    if days in (0, 1):
        return ("today", "tomorrow")[days]
    return date_format(day, "l") if 1 < days < 7 else short_day(day)


@register.filter
def day_in_short(today, on):
    """The first page's numbers as one sentence: of what is waited for, in order of its lists."""
    parts = []
    if today.cables_to_change:
        parts.append(f"{_counted(today.cables_to_change, 'cable')} to change{_of_them_before(today, on)}")
    if today.unanswered.total:
        waits = "waits" if today.unanswered.total == 1 else "wait"
        parts.append(f"{_counted(today.unanswered.total, 'event')} {waits} for your answer")
    if today.held_back.total:
        parts.append(f"{_counted(today.held_back.total, 'mat')} held back")
    if today.going.total:
        parts.append(f"{_counted(today.going.total, 'event')} with mats that should not go")
    if today.measure.total:
        parts.append(f"{_counted(today.measure.total, 'mat')} to measure")
    if today.renamed:
        parts.append(f"{_counted(len(today.renamed), 'code')} changed")
    return f"{'; '.join(parts)}."


@register.filter
def figure(number):
    """A number as a person writes it: no zeros behind, never 1e-05."""
    return "" if number is None else f"{number:.10g}"


@register.filter
def two_places(loss_db):
    """A loss as every page, sheet and sentence shows it: rounded in one way, so that no two of them differ."""
    return "" if loss_db is None else f"{loss_db:.2f}"


@register.filter
def signed(number):
    return f"{number:+.2f}".replace("-", "\N{MINUS SIGN}")


@register.filter
def counts_in_words(counts):
    """`counts_by_status` as one sentence; statuses that nobody has are left out."""
    said = [f"{number} {_COUNTED[status]}" for status, number in counts.items() if number and status in _COUNTED]
    return f"{', '.join(said)}." if said else "Nothing is due."


def _of_them_before(today, on):
    if today.before_on is None:
        return ""
    when = "today’s event" if today.before_on <= on else day_by_name(today.before_on, on)
    return f", {today.cables_before} of them before {when}"


def _counted(number, word):
    return f"{number:g} {word}{'' if number == 1 else 's'}"


def _age(reason):
    old, day = _counted(reason.limit, "year"), short_day(reason.due_on)
    sentence = {
        FittedBasis.ABOUT: f"about {old} old on {day}",
        FittedBasis.NOT_LATER_THAN: f"at least {old} old on {day}",
    }.get(reason.basis, f"{old} old on {day}")
    return f"{sentence} (limit {old})"


def _events(reason):
    limit, so_far, day = f"{reason.limit:g}", _counted(reason.value, "event") + " so far", short_day(reason.due_on)
    sentence = {
        EventsBasis.REACHED: f"limit of {limit} events reached on {day} ({so_far})",
        EventsBasis.PLANNED: f"limit of {limit} expected at {_place_in_plan(reason)} ({so_far})",
        EventsBasis.USUAL_RATE: f"limit of {limit} about {day} at the usual rate ({so_far})",
    }.get(reason.basis, f"{reason.value:g} of {limit} events, no date: the mat did not go out in the last year")
    return sentence + (f"; {reason.not_confirmed:g} not confirmed" if reason.not_confirmed else "")


def _place_in_plan(reason):
    return reason.event or f"the event of {short_day(reason.due_on)}"


def _loss(reason):
    if reason.day is None:
        return "never measured"
    if reason.value is None:
        return f"no signal on {short_day(reason.day)}: the signal does not pass"
    measured = f"{two_places(reason.value)} dB measured on {short_day(reason.day)}, limit {reason.limit:g} dB"
    return measured + (": too close to tell" if reason.basis == Verdict.UNDECIDED else "")


def _trend(reason):
    if reason.due_on is None:
        return f"no date by trend: {_NO_TREND[reason.basis]}"
    by_similar = " (by similar cables)" if reason.basis == TrendFrom.SIMILAR else ""
    return f"{_chance_over(reason)}{_past_or_not_yet(reason)} {short_day(reason.due_on)}{by_similar}"


def _past_or_not_yet(reason):
    if reason.accepted is None:
        return ", too high from"
    if reason.value is not None and reason.value < reason.accepted:
        return f"; reaches the accepted {risk(reason.accepted)} on"
    return f", past the accepted {risk(reason.accepted)} from"


def _chance_over(reason):
    chance = "chance" if reason.value is None else f"{_percent(reason.value)} chance"
    return f"{chance} of over {reason.limit:g} dB"


@register.filter
def risk(accepted):
    """The chance that the policy tolerates, as it was set."""
    return f"{100 * accepted:.10g}{PERCENT}"


@register.filter
def percent(chance):
    """A chance as people say it; never 0 % or 100 %."""
    return "" if chance is None else _percent(chance)


def _percent(chance):
    if chance < 0.001:
        return f"below 0.1{PERCENT}"
    return f"above 99.9{PERCENT}" if chance > 0.999 else f"{100 * chance:.1f}{PERCENT}"


def _damage(reason):
    return f"{reason.basis} fault reported on {short_day(reason.due_on)}"


def _measure(reason):
    return {
        MeasureReason.UNDECIDED: _loss(replace(reason, basis=Verdict.UNDECIDED)),
        MeasureReason.DOUBTFUL: f"the reading of {short_day(reason.day)} is doubtful",
        MeasureReason.NO_LINE: "the readings do not follow a line",
        MeasureReason.FALLING: "the readings fall, and wear does not heal",
        MeasureReason.NEVER_MEASURED: "never measured",
        MeasureReason.LONG_AGO: f"last measured on {short_day(reason.day)}, longer ago than the policy allows",
        MeasureReason.SIMILAR_DUE: f"{_chance_over(reason)} by similar cables, and no reading of its own to tell",
    }[reason.basis]


_NO_TREND = {
    NoDateReason.AGE_NOT_KNOWN: "its age is not known",
    NoDateReason.TOO_FEW_READINGS: "the pool has too few readings yet",
    NoDateReason.ONE_TIME: "all readings were taken at one age of the cables, so no rise shows yet",
    NoDateReason.NOT_SETTLED: "its few readings do not settle how fast it wears",
    NoDateReason.STANDS_STILL: "its mat is planned for nothing and went nowhere in the last year",
    NoDateReason.FALLING: "the readings fall, and wear does not heal",
    NoDateReason.SIMILAR_FALLING: "similar cables fall, and wear does not heal",
    NoDateReason.NO_LINE: "the readings do not follow a line",
    NoDateReason.LATER: "the limit is reached later than 40 years after fitting",
}
_NO_POOL = {
    NoModelReason.ONE_TIME: _NO_TREND[NoDateReason.ONE_TIME],
    NoModelReason.FEW_SEGMENTS: "fewer than five cables have readings on two days",
}
_SENTENCES = {
    Cause.AGE: _age,
    Cause.EVENTS: _events,
    Cause.LOSS: _loss,
    Cause.TREND: _trend,
    Cause.DAMAGE: _damage,
    data.MEASURE: _measure,
}
_COUNTED = {
    Status.CHANGE_NOW: "to change now",
    Status.CHANGE_BEFORE: "to change before an event",
    Status.CHANGE_SOON: "to change within the look-ahead",
    Status.MEASURE: "to measure",
    Status.UNKNOWN: "unknown",
}
