"""The cells of the table of causes, and the kinds of what is due: `{% load cause_text %}`, then

{{ row|kind_of_cause }}                   of a cable to change now: broken or over, by trend, or by age or events alone
{{ rows|kinds_in_words }}                 how many of each there are, where there are several kinds
{{ kinds|kinds_of }}                      such counts by gravity in words
{{ verdict|mark_of }}                     the status whose mark a verdict carries
{% status_words status event days %}      a status with its event and the days of the look-ahead, where they are known
"""

from collections import Counter

from django import template

from fleet.choices import FittedBasis

from ..numeric.words import Cause, EventsBasis, MeasureReason, NoDateReason, Status, Verdict
from .figures import figure, how_long_before, percent, risk, short_day, years_and_months
from .reason_text import NO_TREND, read_loss

register = template.Library()


def number_of(reason, first_fitted_on, on):
    """The number of a cause as its cell shows it; '' where there is none: then `no_number` says why."""
    if reason.cause == Cause.AGE:
        return f"{_AGE_ABOUT.get(reason.basis, '')}{how_long_before(first_fitted_on, on)}"
    if reason.cause == Cause.EVENTS:
        return figure(reason.value)
    if reason.cause == Cause.TREND:
        return percent(reason.value) or "no estimate"
    if reason.day is None:
        return ""
    if reason.basis == MeasureReason.SIMILAR_DUE:
        return percent(reason.value)
    return "" if reason.by_word else read_loss(reason)


def no_number(reason):
    if reason.by_word:
        return "go/no-go"
    return "seen" if reason.cause == Cause.DAMAGE else "not measured"


def limit_of(reason, accepted_risk):
    if reason.cause == Cause.TREND:
        return f"{risk(accepted_risk)} over {figure(reason.limit)} dB"
    if reason.cause in (Cause.AGE, Cause.EVENTS) and not reason.limit:
        return "no limit"
    if reason.cause == Cause.AGE:
        return years_and_months(reason.limit)
    return "" if reason.limit is None else f"{figure(reason.limit)} {reason.unit}"


def rests_on(reason):
    """What the number and the day of a cause come from, or why there is no day."""
    if not reason.applies:
        return "does not count: its own readings decide"
    if reason.cause == Cause.AGE:
        return f"day of fitting {reason.basis}"
    if reason.cause == Cause.LOSS:
        return _measured(reason) if reason.day else "not measured"
    if reason.cause == Cause.EVENTS:
        not_confirmed = f", {reason.not_confirmed:g} not confirmed" if reason.not_confirmed else ""
        return f"{_EVENTS.get(reason.basis, _no_rate)(reason)}{not_confirmed}"
    if reason.cause == Cause.TREND:
        return NO_TREND.get(reason.basis, reason.basis)
    if reason.cause == Cause.DAMAGE:
        return f"{reason.basis} fault reported"
    return _ASKED[reason.basis](reason)


def _measured(reason):
    said = f"{reason.basis or 'not compared'}, measured {short_day(reason.day)}"
    if reason.basis != Verdict.UNDECIDED:
        return said
    return f"{said}{', by a go/no-go tester that is not set to the limit' if reason.by_word else ': measure again'}"


def _no_rate(reason):
    return "the mat did not go out in the last year" if reason.limit else "no limit"


@register.filter
def kind_of_cause(row):
    return KINDS_OF_CAUSE[row.gravity] if row.status == Status.CHANGE_NOW else ""


@register.filter
def kinds_in_words(rows):
    """`2 broken or over, 1 by trend, 3 before an event` of segments to change; '' where all are of one kind."""
    now = Counter(row.gravity for row in rows if row.status == Status.CHANGE_NOW)
    before = sum(row.status == Status.CHANGE_BEFORE for row in rows)
    kinds = [kinds_of(now), *([f"{before} before an event"] if before else [])]
    return ", ".join(kinds) if len(now) + bool(before) > 1 and now else ""


@register.filter
def kinds_of(kinds):
    """Counts by gravity in words, the gravest first."""
    return ", ".join(f"{kinds[gravity]} {kind}" for gravity, kind in KINDS_OF_CAUSE.items() if kinds.get(gravity))


@register.filter
def mark_of(verdict):
    return _MARKS.get(verdict, "")


@register.simple_tag
def status_words(status, event="", days=None):
    if status == Status.CHANGE_BEFORE and event:
        return f"change before {event}"
    return f"change within {days} days" if status == Status.CHANGE_SOON and days else status


KINDS_OF_CAUSE = {
    Cause.DAMAGE.gravity: "broken or over",
    Cause.TREND.gravity: "by trend",
    Cause.AGE.gravity: "by age or events alone",
}
_AGE_ABOUT = {FittedBasis.ABOUT: "about ", FittedBasis.NOT_LATER_THAN: "at least "}
_EVENTS = {
    EventsBasis.REACHED: lambda reason: "events that went",
    EventsBasis.PLANNED: lambda reason: f"planned: {reason.event or short_day(reason.due_on)}",
    EventsBasis.USUAL_RATE: lambda reason: "usual rate",
}
_ASKED = {
    MeasureReason.UNDECIDED: lambda reason: f"too close to the limit, measured {short_day(reason.day)}",
    MeasureReason.DOUBTFUL: lambda reason: f"the reading of {short_day(reason.day)} is doubtful",
    MeasureReason.NO_LINE: lambda reason: "its newest reading lies far from what was expected",
    MeasureReason.FALLING: lambda reason: NO_TREND[NoDateReason.FALLING],
    MeasureReason.NEVER_MEASURED: lambda reason: "no reading of its own",
    MeasureReason.LONG_AGO: lambda reason: f"measured {short_day(reason.day)}, longer ago than the policy allows",
    MeasureReason.SIMILAR_DUE: lambda reason: "similar cables, no reading of its own",
}
_MARKS = {Verdict.OVER: Status.CHANGE_NOW, Verdict.UNDECIDED: Status.MEASURE, Verdict.WITHIN: Status.OK}
