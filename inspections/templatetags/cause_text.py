"""How sure a date is, and the cells of the table of causes: `{% load cause_text %}`, then

{% how_sure reason row alone %}           how sure the due date is; `alone`: no pool to borrow from
{% by_trend reason row alone on %}        the trend where another cause decides
{% two_certainties row alone %}          why the newest reading and the trend say different things, where they do
{{ row|ruled_out }}                       where its own readings decide: when it would be due by age and events; else ''
{{ reasons|of_trend }}                    the one of them that is a trend
{{ row|kind_of_cause }}                   of a cable to change now: broken or over, by trend, or by age or events alone
{{ rows|kinds_in_words }}                 how many of each there are, where there are several kinds
{{ kinds|kinds_of }}                      such counts by gravity in words
{{ verdict|mark_of }}                     the status whose mark a verdict carries
{% status_words status event days %}      a status with its event and the days of the look-ahead, where they are known
"""

from collections import Counter

from django import template

from fleet.choices import FittedBasis

from ..numeric.verdicts import verdict_of_chance
from ..numeric.words import Cause, EventsBasis, MeasureReason, Status, TrendFrom, Verdict
from .figures import PERCENT, figure, how_long_before, percent, risk, short_day, two_places, years_and_months
from .reason_text import in_words

register = template.Library()


@register.simple_tag
def how_sure(reason, row, alone):
    return _HOW_SURE[reason.cause](reason, row, alone)


def estimated(row, alone):
    said = [_FROM_SIMILAR if row.from_similar else _FROM_OWN if alone else _FROM_OWN_AND_SIMILAR]
    if row.chance_over is not None:
        said.append(f"{percent(row.chance_over).capitalize()} likely to be over the limit today.")
    if row.trend_expected_on:
        said.append(f"50{PERCENT} chance from {short_day(row.trend_expected_on)}.")
    return " ".join([*said, *(["Measure it for a better estimate."] if row.from_similar else [])])


@register.simple_tag
def by_trend(reason, row, alone, on):
    """The trend where another cause decides."""
    if reason.due_on is None:
        sentence = in_words(reason)
        return f"{sentence[0].upper()}{sentence[1:]}."
    reached = "reached" if reason.due_on <= on else "reaches"
    return (
        f"The chance of being over {figure(reason.limit)} dB {reached} the accepted risk of {risk(reason.accepted)} "
        f"on {short_day(reason.due_on)}. {estimated(row, alone)}"
    )


@register.simple_tag
def two_certainties(row, alone):
    """Why the newest reading, judged by itself, and the chance by trend differ; '' where they say the same."""
    chance = row.chance_over
    if chance is None or not row.verdict or row.no_signal or row.verdict == str(verdict_of_chance(1 - chance)):
        return ""
    said = (
        f"The reading of {short_day(row.measured_on)} by itself {_BY_ITSELF[row.verdict]}: "
        f"a single measurement has {_its_uncertainty(row)}. "
        f"The chance of {percent(chance)} differs, because it weighs {_weighed(row, alone)}."
    )
    return f"{said} What was measured over is due all the same." if row.verdict == Verdict.OVER else said


@register.filter
def ruled_out(row):
    if row.age_applies:
        return ""
    days = [("age", row.age_due_on), ("events", row.events_due_on)]
    dated = [f"By {cause} {_would_be_due(day, row.assessed_on)}." for cause, day in days if day]
    return " ".join(["Age and events do not count: its own readings decide.", *dated])


def _would_be_due(day, on):
    return f"it would {'have been' if day <= on else 'be'} due on {short_day(day)}"


def _its_uncertainty(row):
    if not row.loss_uncertainty_db:
        return "an uncertainty"
    return f"a standard uncertainty of {figure(row.loss_uncertainty_db)} dB"


def _weighed(row, alone):
    if row.from_similar:
        return "similar cables alone"
    return "all its readings" if alone else "all its readings, and those of similar cables"


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
    return "no signal" if reason.value is None else f"{two_places(reason.value)} dB"


def no_number(reason):
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
    if not reason.applies:
        return "does not count: its own readings decide"
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


def _sure_of_events(reason, row, alone):
    if reason.basis == EventsBasis.REACHED:
        not_confirmed = f" {reason.not_confirmed} of them not confirmed." if reason.not_confirmed else ""
        return f"Counted: {figure(reason.value)} of {figure(reason.limit)} events.{not_confirmed}"
    if reason.basis == EventsBasis.PLANNED:
        return "If its mat goes to the events that are planned."
    return "An estimate, if its mat goes out as often as in the last year."


def _sure_of_loss(reason, row, alone):
    if row.no_signal or not row.loss_uncertainty_db:
        return "Measured."
    return f"Measured, with a standard uncertainty of {figure(row.loss_uncertainty_db)} dB."


_HOW_SURE = {
    Cause.AGE: lambda reason, row, alone: _SURE_OF_AGE[reason.basis],
    Cause.EVENTS: _sure_of_events,
    Cause.LOSS: _sure_of_loss,
    Cause.TREND: lambda reason, row, alone: estimated(row, alone),
    Cause.DAMAGE: lambda reason, row, alone: "Seen and reported. Nobody has looked at it since.",
}
_SURE_OF_AGE = {
    FittedBasis.KNOWN: "Certain: the day of fitting is known.",
    FittedBasis.ABOUT: "Approximate: the day of fitting is only roughly known.",
    FittedBasis.NOT_LATER_THAN: "At the latest: the day of fitting is not known, so the cable may be older.",
}
KINDS_OF_CAUSE = {
    Cause.DAMAGE.gravity: "broken or over",
    Cause.TREND.gravity: "by trend",
    Cause.AGE.gravity: "by age or events alone",
}
_BY_ITSELF = {
    Verdict.UNDECIDED: "is too close to the limit to tell",
    Verdict.WITHIN: "is within the limit",
    Verdict.OVER: "is over the limit",
}
_FROM_OWN = "Estimated from its own readings."
_FROM_OWN_AND_SIMILAR = "Estimated from its own readings and those of similar cables."
_FROM_SIMILAR = "Estimated from similar cables: it has no reading of its own that counts."
_AGE_ABOUT = {FittedBasis.ABOUT: "about ", FittedBasis.NOT_LATER_THAN: "at least "}
_RESTS_ON = {TrendFrom.SIMILAR: "similar cables", MeasureReason.SIMILAR_DUE: "no reading of its own"}
_MARKS = {Verdict.OVER: Status.CHANGE_NOW, Verdict.UNDECIDED: Status.MEASURE, Verdict.WITHIN: Status.OK}
