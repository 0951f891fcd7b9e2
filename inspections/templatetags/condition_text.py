"""The three sentences at the head of a cable's page, when, how sure and why: `{% load condition_text %}`, then

{{ row|expected:on }}                     when its loss is expected at the limit; '' without such a day
{{ reason|how_sure:row }}                 how sure the due date is that rests on this reason
{{ row|chance_in_words:chance_then }}     the chance that it is over the limit; `chance_then`: on its due date
{% rests_on_readings row alone decides %} whose readings speak; `alone`: no pool to borrow from; `decides`: `why_trend`
{{ row|why_trend }}                         whether its status rests on its trend
{{ fit|wander:per }}                      how cables of the pool wander; '' where they do not
{{ row|departure %}}                      what to do about a newest reading that departs, unless its status says it; ''
{{ row|no_trend_date }}                   why there is no date by trend; '' where there is one
{% two_certainties row alone %}           why the newest reading and the trend say different things, where they do
{{ row|ruled_out }}                       where its own readings decide: when it would be due by age and events; else ''
"""

from django import template

from fleet.choices import FittedBasis
from fleet.figures import YEARS_AHEAD, is_far

from ..assessment import reasons as data
from ..numeric.verdicts import verdict_of_chance
from ..numeric.words import Cause, EventsBasis, MeasureReason, Verdict
from .figures import decibels, figure, percent, risk, short_day, spread
from .reason_text import in_words

register = template.Library()


@register.filter
def expected(row, on):
    # what is broken does not wear on
    if row.trend_expected_on is None or row.no_signal:
        return ""
    if is_far(row.trend_expected_on, on):
        return f"Its loss is not expected to reach {_limit(row)} within {YEARS_AHEAD} years."
    said = "to have been at" if row.trend_expected_on <= on else "to reach"
    when = "since" if row.trend_expected_on <= on else "on"
    return f"Its loss is expected {said} {_limit(row)} {when} {short_day(row.trend_expected_on)}."


@register.filter
def how_sure(reason, row):
    return _HOW_SURE[reason.cause](reason, row)


@register.filter
def chance_in_words(row, chance_then=None):
    """Today, on the due date, and when it reaches the accepted risk."""
    if row.chance_over is None or row.no_signal:
        return ""
    return (
        f"The chance that the cable itself is at {_limit(row)} or more is "
        f"{percent(row.chance_over)} today{_then(row, chance_then)}{_accepted(row)}. "
        "Bench days and past steps are counted in, a crushed cable is not."
    )


def _limit(row):
    return f"{figure(row.loss_limit_db)}\N{NO-BREAK SPACE}dB"


def _then(row, chance_then):
    if chance_then is None:
        return ""
    if is_far(row.due_on, row.assessed_on):
        return ""
    day = short_day(row.due_on)
    said = percent(chance_then)
    return f" and on {day}" if said == percent(row.chance_over) else f", {said} on {day}"


def _accepted(row):
    if row.trend_due_on is None or row.accepted_risk is None:
        return ""
    day = short_day(row.trend_due_on)
    if is_far(row.trend_due_on, row.assessed_on):
        return f"; it does not reach the accepted risk of {risk(row.accepted_risk)} within {YEARS_AHEAD} years"
    if row.trend_due_on > row.assessed_on:
        return f"; it reaches the accepted risk of {risk(row.accepted_risk)} on {day}"
    return f"; it has been above the accepted risk of {risk(row.accepted_risk)} since {day}"


@register.filter
def why_trend(row):
    """Its status rests on its trend with a date: its chance and its date stand beside it."""
    reason = data.deciding_reason(row)
    return reason is not None and reason.cause == Cause.TREND and reason.due_on is not None


@register.simple_tag
def rests_on_readings(row, alone, decides=False):
    if not row.trend_from or row.no_signal:
        return ""
    estimated = "Its trend decides, estimated" if decides else "Its trend is estimated"
    if row.from_similar:
        return f"{estimated} {_FROM_SIMILAR} Measure it for a better estimate."
    return f"{estimated} {_FROM_OWN if alone else _FROM_OWN_AND_SIMILAR}"


@register.filter
def wander(fit, per):
    """Per root unit of the clock, so that of one unit is the number itself."""
    said = fit and decibels(fit.wander_db)
    return f"Cables of this pool wander by {said} in {_ONE[per]}." if said else ""


@register.filter
def departure(row):
    is_said = row.to_measure and row.measure_reason == MeasureReason.NO_LINE
    return _DEPARTS if row.departs and not is_said else ""


@register.filter
def no_trend_date(row):
    reason = next((reason for reason in data.reasons(row) if reason.cause == Cause.TREND), None)
    if reason is None or reason.due_on:
        return ""
    said = in_words(reason)
    return f"{said[0].upper()}{said[1:]}."


@register.simple_tag
def two_certainties(row, alone):
    """Why the newest reading, judged by itself, and the chance by trend differ; '' where they say the same."""
    chance = row.chance_over
    by_number = row.verdict and not row.no_signal and not row.go_no_go
    if chance is None or not by_number or row.verdict == str(verdict_of_chance(1 - chance)):
        return ""
    said = (
        f"The reading of {short_day(row.measured_on)} by itself {_BY_ITSELF[row.verdict]}: "
        f"a single measurement has {_its_uncertainty(row)}. {_why_it_differs(row, alone)}"
    )
    return f"{said} What was measured over is due all the same." if row.verdict == Verdict.OVER else said


def _why_it_differs(row, alone):
    chance = percent(row.chance_over)
    if row.departs and row.verdict == Verdict.OVER:
        return (
            f"The chance ({chance}) is of wear alone, which does not explain that reading: "
            "the cable may be damaged, or the reading wrong."
        )
    return f"The chance ({chance}) differs: {_weighed(row, alone)}."


@register.filter
def ruled_out(row):
    if row.age_applies:
        return ""
    days = [("age", row.age_due_on), ("events", row.events_due_on)]
    dated = [f"By {cause} {_would_be_due(day, row.assessed_on)}." for cause, day in days if day]
    return " ".join(["Age and events do not count: its own readings decide.", *dated])


def _would_be_due(day, on):
    if is_far(day, on):
        return f"it would not be due within {YEARS_AHEAD} years"
    return f"it would {'have been' if day <= on else 'be'} due on {short_day(day)}"


def _its_uncertainty(row):
    if not row.loss_uncertainty_db:
        return "an uncertainty"
    return f"a standard uncertainty of {spread(row.loss_uncertainty_db)} dB"


def _weighed(row, alone):
    if row.from_similar:
        return "it rests on similar cables alone"
    if alone:
        return "it weighs all readings of the cable"
    return (
        "it takes out what the bench read high or low on each day, and weighs all readings of the cable and those of "
        "similar cables"
    )


def _sure_of_events(reason, row):
    if reason.basis == EventsBasis.REACHED:
        not_confirmed = f" {reason.not_confirmed} of them not confirmed." if reason.not_confirmed else ""
        return f"Counted: {figure(reason.value)} of {figure(reason.limit)} events.{not_confirmed}"
    if reason.basis == EventsBasis.PLANNED:
        return "If its mat goes to the events that are planned."
    return "An estimate, if its mat goes out as often as in the last year."


def _sure_of_loss(reason, row):
    if row.go_no_go:
        return "Said by a go/no-go tester, which shows no number."
    if row.no_signal or not row.loss_uncertainty_db:
        return "Measured."
    return f"Measured, with a standard uncertainty of {spread(row.loss_uncertainty_db)} dB."


_HOW_SURE = {
    Cause.AGE: lambda reason, row: _SURE_OF_AGE[reason.basis],
    Cause.EVENTS: _sure_of_events,
    Cause.LOSS: _sure_of_loss,
    Cause.TREND: lambda reason, row: "Estimated.",
    Cause.DAMAGE: lambda reason, row: "Seen and reported. Nobody has looked at it since.",
}
_SURE_OF_AGE = {
    FittedBasis.KNOWN: "Certain: the day of fitting is known.",
    FittedBasis.ABOUT: "Approximate: the day of fitting is only roughly known.",
    FittedBasis.NOT_LATER_THAN: "At the latest: the day of fitting is not known, so the cable may be older.",
}
_BY_ITSELF = {
    Verdict.UNDECIDED: "is too close to the limit to tell",
    Verdict.WITHIN: "is within the limit",
    Verdict.OVER: "is over the limit",
}
_FROM_OWN = "from its own readings."
_FROM_OWN_AND_SIMILAR = "from its own readings and those of similar cables."
_FROM_SIMILAR = "from similar cables: it has no reading of its own that counts."
_DEPARTS = "The newest reading lies far from what was expected: measure again; the date stands."
_ONE = {"year": "a year", "event": "an event"}
