"""Lines of the due list by mat in words: `{% load due_text %}`, then

{{ row|cause_in_short }}       what a row's status rests on, without the days that stand beside it
{{ line|causes_in_short }}     the same of a DueLine: numbers that differ from the least to the most
{{ line|positions_in_short }}  1–4, 6, 8
{{ line|beside_cause:assumptions }}  the other causes reached, and what is assumed; `assumptions`: those of the page
{{ counts|counts_as_links }}   the counts by status, each with the value that the filter has for it
{{ count|cables_in_mats }}     19 cables in 6 mats
{{ rows|serials_of_line }}     their serials, as the form of the list sends them
{{ row|loss_in_words }}        its newest reading with its age
{{ line|worst_loss }}          the worst of the newest readings
{{ row|needed_before }}        the planned event that decides, with its day; else the mat's next one
"""

from dataclasses import dataclass
from datetime import date
from itertools import groupby

from django import template

from ..assessment import assumptions as assumed
from ..assessment import reasons as data
from ..numeric.words import Cause, MeasureReason, Status
from .figures import ago, counted, percent, risk, short_day, two_places, years_and_months
from .reason_text import newest_loss

register = template.Library()


@dataclass(frozen=True)
class NeededBefore:
    """A planned event; `decides`: the status rests on it."""

    code: str
    name: str
    day: date
    decides: bool


@register.filter
def needed_before(row):
    """NeededBefore; None where the mat is planned for nothing."""
    event = row.before_event if row.status == Status.CHANGE_BEFORE else None
    if event:
        return NeededBefore(event.code, event.name, event.starts_on, decides=True)
    if not row.next_event_code:
        return None
    return NeededBefore(row.next_event_code, row.next_event_name, row.next_event_on, decides=False)


@register.filter
def cause_in_short(row):
    return _in_short([row])


@register.filter
def causes_in_short(line):
    return _in_short(line.rows)


@register.filter
def positions_in_short(line):
    numbers = enumerate(row.position for row in line.rows)
    runs = (list(run) for _, run in groupby(numbers, key=lambda pair: pair[1] - pair[0]))
    return ", ".join(_run(run[0][1], run[-1][1]) for run in runs)


@register.filter
def beside_cause(line, assumptions):
    return beside_of_cause(line.rows, assumptions)


def beside_of_cause(rows, assumptions):
    """also by age · from similar cables · events estimated; '' where nothing stands beside the cause of these.

    What its column already calls not measured can only be judged from similar cables.
    """
    also = [str(cause) for cause in Cause if any(_has_reached_beside(row, cause) for row in rows)]
    kinds = {each.kind for row in rows for each in assumptions[row.segment_id].each}
    said = [f"also by {', '.join(also)}"] if also else []
    said += ["from similar cables"] if _rests_on_similar(rows[0]) and any(row.measured_on for row in rows) else []
    return " · ".join([*said, *(words for kind, words in _ROUGH.items() if kind in kinds)])


@register.filter
def counts_as_links(counts):
    """(status, number, aside, word) of the statuses that ask for something and that some cable has; the phone, which
    has all five beside each other, leaves `aside` out."""
    return [(status, number, *_COUNTED[status]) for status, number in counts.items() if number and status in _COUNTED]


@register.filter
def worst_loss(line):
    """A bare number where there is one: its heading has the unit."""
    return loss_in_column(line.worst)


@register.filter
def cables_in_mats(count):
    """Of a StatusCount."""
    return f"{counted(count.cables, 'cable')} in {counted(count.mats, 'mat')}"


@register.filter
def serials_of_line(rows):
    """No code holds a slash."""
    return "/".join(row.segment.serial for row in rows)


@register.filter
def loss_in_words(row):
    read = newest_loss(row)
    return read if row.measured_on is None else f"{read}, {ago(row.measured_on, row.assessed_on)}"


@register.filter
def loss_in_column(row):
    return newest_loss(row) if row.reference_loss_db is None else two_places(row.reference_loss_db)


def _rests_on_similar(row):
    by_trend = row.measure_reason == MeasureReason.SIMILAR_DUE if row.to_measure else row.cause == Cause.TREND
    return by_trend and row.from_similar


def _has_reached_beside(row, cause):
    return row.has_reached(cause) and (row.to_measure or cause != row.cause)


def _run(first, last):
    return str(first) if first == last else f"{first}{'–' if last - first > 1 else ', '}{last}"


def _in_short(rows):
    reasons = [data.deciding_reason(row) for row in rows]
    if reasons[0] is None:
        return "no cause has a date"
    return _SHORT[reasons[0].cause](reasons)


def _damage(reasons):
    days = {reason.due_on for reason in reasons}
    return f"{_each(reason.basis for reason in reasons)} fault, reported {short_day(min(days))}"


def _loss(reasons):
    measured = [reason.value for reason in reasons if reason.value is not None]
    said = [f"{_span(measured, two_places)} dB (limit {reasons[0].limit:g} dB)"] if measured else []
    if any(reason.by_word for reason in reasons):
        said.append("over by a go/no-go tester")
    if any(reason.value is None and not reason.by_word for reason in reasons):
        said.append("no signal")
    return f"{', '.join(said)}, measured {short_day(max(reason.day for reason in reasons))}"


def _trend(reasons):
    first = reasons[0]
    accepted = f" (accepted {risk(first.accepted)})" if first.accepted is not None else ""
    return f"{_likely_over(reasons)}{accepted}"


def _likely_over(reasons):
    chances = [reason.value for reason in reasons if reason.value is not None]
    limit = f"over {reasons[0].limit:g} dB"
    return f"{_span(chances, percent)} likely {limit}" if chances else f"may be {limit}"


def _events(reasons):
    return f"{_span([reason.value for reason in reasons], '{:g}'.format)} events (limit {reasons[0].limit:g})"


def _age(reasons):
    return f"age limit of {_each(years_and_months(reason.limit) for reason in reasons)}"


def _measure(reasons):
    first, measured = reasons[0], [reason.value for reason in reasons if reason.value is not None]
    if first.basis == MeasureReason.UNDECIDED and measured:
        return f"{_span(measured, two_places)} dB, too close to the limit of {first.limit:g} dB"
    if first.basis == MeasureReason.LONG_AGO:
        return f"last measured {short_day(min(reason.day for reason in reasons))}: too long ago"
    if first.basis == MeasureReason.SIMILAR_DUE:
        return f"{_likely_over(reasons)}, not measured"
    return _ASKS[first.basis]


def _each(words):
    return ", ".join(dict.fromkeys(words))


def _span(numbers, words):
    least, most = words(min(numbers)), words(max(numbers))
    return most if least == most else f"{least} to {most}"


_ROUGH = {
    assumed.NOT_LATER_THAN: "age not recorded",
    assumed.ABOUT: "age estimated",
    assumed.REPORTED: "events estimated",
    assumed.NOT_CONFIRMED: "events unconfirmed",
    assumed.NO_USE: "no event recorded",
}
_COUNTED = {
    Status.CHANGE_NOW: ("to change ", "now"),
    Status.CHANGE_BEFORE: ("", "before an event"),
    Status.CHANGE_SOON: ("within the ", "look-ahead"),
    Status.MEASURE: ("to ", "measure"),
    Status.UNKNOWN: ("", "unknown"),
}
_ASKS = {
    MeasureReason.UNDECIDED: "a go/no-go tester that is not set to the limit",
    MeasureReason.DOUBTFUL: "the newest reading is doubtful",
    MeasureReason.NO_LINE: "the newest reading is far from what was expected",
    MeasureReason.FALLING: "the readings fall, but wear only raises the loss",
    MeasureReason.NEVER_MEASURED: "not measured",
}
_SHORT = {
    Cause.DAMAGE: _damage,
    Cause.LOSS: _loss,
    Cause.TREND: _trend,
    Cause.EVENTS: _events,
    Cause.AGE: _age,
    data.MEASURE: _measure,
}
