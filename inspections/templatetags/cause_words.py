"""How sure a date is, and the cells of the table of causes: `{% load cause_words %}`, then

{% how_sure reason row alone %}           how sure the due date is; `alone`: no pool to borrow from
{% estimated row alone %}                 what a trend rests on, its chance today and its expected day
{% number_of reason first_fitted_on on as number %}     '' where there is none: then {{ reason|no_number }}
{{ reason|limit_of:accepted_risk }}  {{ reason|rests_on }}  {{ reasons|of_trend }}
{{ verdict|mark_of }}                     the status whose mark a verdict carries
{% status_words status event days %}      a status with its event and the days of the look-ahead, where they are known
"""

from django import template

from fleet.choices import FittedBasis

from ..numeric.words import Cause, EventsBasis, MeasureReason, Status, TrendFrom, Verdict
from .words import figure, how_long_before, percent, risk, short_day, two_places

register = template.Library()


@register.simple_tag
def how_sure(reason, row, alone):
    return _HOW_SURE[reason.cause](reason, row, alone)


@register.simple_tag
def estimated(row, alone):
    chance = f": the chance that it is over the limit today is {percent(row.chance_over)}"
    expected = f"; as likely over as not from {short_day(row.trend_expected_on)}"
    return (
        f"Reckoned {_estimated_from(row, alone)}"
        f"{chance if row.chance_over is not None else ''}{expected if row.trend_expected_on else ''}."
        f"{' A measurement would make it surer.' if row.from_similar else ''}"
    )


@register.simple_tag
def number_of(reason, first_fitted_on, on):
    if reason.cause == Cause.AGE:
        return f"{_AGE_ABOUT.get(reason.basis, '')}{how_long_before(first_fitted_on, on)}"
    if reason.cause == Cause.EVENTS:
        return figure(reason.value)
    if reason.cause == Cause.TREND:
        return percent(reason.value) or "not reckoned"
    if reason.day is None:
        return ""
    if reason.basis == MeasureReason.SIMILAR_DUE:
        return percent(reason.value)
    return "no signal" if reason.value is None else f"{two_places(reason.value)} dB"


@register.filter
def no_number(reason):
    return "seen" if reason.cause == Cause.DAMAGE else "not measured"


@register.filter
def limit_of(reason, accepted_risk):
    if reason.cause == Cause.TREND:
        return f"{risk(accepted_risk)} over {figure(reason.limit)} dB"
    return "" if reason.limit is None else f"{figure(reason.limit)} {reason.unit}"


@register.filter
def rests_on(reason):
    if reason.cause == Cause.AGE:
        return f"day of fitting {reason.basis}"
    if reason.cause == Cause.LOSS:
        return f"{reason.basis or 'not compared'}, measured {short_day(reason.day)}" if reason.day else "no reading"
    if reason.cause == Cause.EVENTS:
        not_confirmed = f", {reason.not_confirmed} not confirmed" if reason.not_confirmed else ""
        return f"{reason.basis or 'no date'}{not_confirmed}"
    return _RESTS_ON.get(reason.basis, reason.basis)


@register.filter
def of_trend(reasons):
    """The one of them that is a trend; None without one."""
    return next((reason for reason in reasons if reason.cause == Cause.TREND), None)


@register.filter
def mark_of(verdict):
    return _MARKS.get(verdict, "")


@register.simple_tag
def status_words(status, event="", days=None):
    if status == Status.CHANGE_BEFORE and event:
        return f"change before {event}"
    return f"change within {days} days" if status == Status.CHANGE_SOON and days else status


def _estimated_from(row, alone):
    if row.from_similar:
        return "from similar cables, since it has no reading of its own that counts"
    return "from its own readings" if alone else "from its own readings and the pool’s"


def _sure_of_events(reason, row, alone):
    if reason.basis == EventsBasis.REACHED:
        not_confirmed = f", {reason.not_confirmed} of them not confirmed" if reason.not_confirmed else ""
        return f"Counted: {figure(reason.value)} of {figure(reason.limit)} events{not_confirmed}."
    if reason.basis == EventsBasis.PLANNED:
        return "If its mat goes to what is planned."
    return "A guess: the mat’s events of the last year, carried on."


def _sure_of_loss(reason, row, alone):
    if row.no_signal or not row.loss_uncertainty_db:
        return "Measured."
    return f"Measured, with a standard uncertainty of {figure(row.loss_uncertainty_db)} dB."


_HOW_SURE = {
    Cause.AGE: lambda reason, row, alone: _SURE_OF_AGE[reason.basis],
    Cause.EVENTS: _sure_of_events,
    Cause.LOSS: _sure_of_loss,
    Cause.TREND: lambda reason, row, alone: estimated(row, alone),
    Cause.DAMAGE: lambda reason, row, alone: "Seen and reported; nobody has looked at it again since.",
}
_SURE_OF_AGE = {
    FittedBasis.KNOWN: "Sure: the day of fitting is known.",
    FittedBasis.ABOUT: "About: the day of fitting is known roughly.",
    FittedBasis.NOT_LATER_THAN: "At the latest: it may well be older, since the day of fitting is not known.",
}
_AGE_ABOUT = {FittedBasis.ABOUT: "about ", FittedBasis.NOT_LATER_THAN: "at least "}
_RESTS_ON = {TrendFrom.SIMILAR: "similar cables", MeasureReason.SIMILAR_DUE: "no reading of its own"}
_MARKS = {Verdict.OVER: Status.CHANGE_NOW, Verdict.UNDECIDED: Status.MEASURE, Verdict.WITHIN: Status.OK}
