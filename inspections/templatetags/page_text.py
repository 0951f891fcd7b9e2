"""Sentences of whole pages, as data: `{% load page_text %}`, then

{{ counts|counts_in_words }}  {{ today|day_in_parts:on }}  {{ state|over_today }}  {{ reason|no_pool }}
{% none_yet faults=… readings=… as nothing %}
{{ backup|copy_text:on }}  {{ row.given_way|given_way_in_words }}  {{ row|off_trend_text }}
{% with text=act|reading_act_text %}…   {% with text=run|run_text %}…
"""

from dataclasses import dataclass

from django import template

from fleet.choices import FittedBasis
from fleet.selectors.deleting_fittings import told_lately

from ..choices import Stage
from ..numeric.words import NoDateReason, NoModelReason, Status
from .cause_text import kinds_of
from .figures import ago, counted, day_by_name, figure, percent, short_day, two_places
from .reason_text import NO_TREND

register = template.Library()
register.filter(told_lately)


@dataclass(frozen=True)
class ReadingAct:
    """What the page of an act on one reading says."""

    heading: str
    note: str
    button: str


@register.filter
def reading_act_text(act):
    return _READING_ACTS[act]


@register.filter
def run_text(run):
    """How far an assessment of the whole pool is."""
    return _STAGES[run.stage].format(cables=counted(run.segments or 0, "cable"))


@register.simple_tag
def none_yet(**parts):
    """`No faults, no readings, no work orders.`: parts of a page that hold nothing, named by their keys; '' without."""
    missing = [f"no {name.replace('_', ' ')}" for name, held in parts.items() if not held]
    return f"{', '.join(missing).capitalize()}." if missing else ""


@register.filter
def steps_done(run):
    return _STEPS_DONE.get(run.stage, 0)


@register.filter
def suspicious(suspect):
    """What stands out of a cable, beside what is usual."""
    return {
        "length": f"its length is {two_places(suspect.value)} m, where {two_places(suspect.usual)} m is usual",
        "loss": f"its loss of {short_day(suspect.day)} is {two_places(suspect.value)} dB, "
        f"where {two_places(suspect.usual)} dB is usual",
        "age": f"it was first fitted on {short_day(suspect.day)}, long before the others",
        "events": f"it is said to have been to {figure(suspect.value)} events, where {figure(suspect.usual)} are usual",
    }[suspect.kind]


@register.filter
def given_way_in_words(events):
    """Usual use that does not count; nothing of none."""
    if not events:
        return ""
    do = "does" if events == 1 else "do"
    return f"{counted(events, 'event')} of usual use {do} not count: others of that month are logged or reported."


@register.filter
def no_pool(reason):
    """Why there is no trend of the pool."""
    return _NO_POOL[reason]


@register.filter
def off_trend_text(row):
    """What may be behind a newest reading that departs, or readings that fall."""
    if not row.departs:
        return "The readings fall: is it the wrong cable, another fixture, or was it cleaned?"
    high = "above" if row.trend_departure > 0 else "below"
    return f"The newest reading lies far {high} what was expected: measure again. The date stands."


@register.filter
def now_in_words(kinds):
    """`kinds_to_change_now` as a sentence; '' where nothing is to be changed now."""
    return f"To change now: {kinds_of(kinds)}." if kinds else ""


@register.filter
def counts_in_words(counts):
    """`counts_by_status` as one sentence; statuses that nobody has are left out."""
    said = [f"{number} {_COUNTED[status]}" for status, number in counts.items() if number and status in _COUNTED]
    return f"{', '.join(said)}." if said else "Nothing is due."


@register.filter
def day_in_parts(today, on):
    """The first page's numbers, of what is waited for in order of its lists: [(words, id of the list)]."""
    parts = []
    if today.cables_to_change:
        words = f"{counted(today.cables_to_change, 'cable')} to change{_of_them_before(today, on)}"
        parts.append((words, "change"))
    for place, total, noun, rest in (
        ("answer", today.unanswered.total, "event", "to be confirmed"),
        ("orders", today.orders.total, "work order", "to see to"),
        ("held", today.held_back.total, "mat", "on hold"),
        ("going", today.going.total, "event", "with mats that are not fit to go"),
        ("measure", today.measure.total, "mat", "to measure"),
    ):
        if total:
            parts.append((f"{counted(total, noun)} {rest}", place))
    parts += [(words, "unknown") for words in unknown_parts(today.unknown_cables)]
    if today.renamed:
        parts.append((f"{counted(len(today.renamed), 'code')} changed", "renamed"))
    return parts


@register.filter
def copy_text(backup, on):
    """How old a back-up is, and how far it goes where it says so."""
    days, held = (on - backup.made_on).days, backup.held
    made = f"The newest copy is {counted(days, 'day')} old." if days else "The newest copy was made today."
    if held is None:
        return made
    if held.is_empty:
        return f"{made} It is a copy of an empty pool."
    mats = counted(held.mats, "mat") if held.mats else "no mat"
    if held.last_logged_on is None:
        return f"{made} It holds {mats}. No event is logged in it."
    return f"{made} It holds {mats}. The last event in it was logged {_days_ago(held.last_logged_on, on)}."


@register.filter
def needs_another(backup, on):
    """Whether little would be saved by it: it is more than a week old, or of an empty pool."""
    return (on - backup.made_on).days > 7 or (backup.held is not None and backup.held.is_empty)


def _days_ago(day, on):
    if day > on:
        # a clock was wrong
        return f"on {short_day(day)}"
    return "yesterday" if (on - day).days == 1 else ago(day, on)


@register.filter
def unknown_in_words(unknown):
    """UnknownCables with the ways out, as one sentence; '' where nothing is unknown."""
    parts = unknown_parts(unknown)
    return f"{'; '.join(parts)}." if parts else ""


@register.filter
def any_of_unknown_age(rows):
    return any(row.age_basis == FittedBasis.NOT_LATER_THAN for row in rows)


@register.filter
def what_is_unknown(rows):
    """Of the unknown cables of one mat: what is not known."""
    never = all(row.measured_on is None for row in rows)
    measured = "not measured" if never else "not measured lately"
    if any_of_unknown_age(rows):
        return f"{'Its' if len(rows) == 1 else 'Their'} age is not known; {measured}."
    return f"No limit and no reading gives a date; {measured}."


def unknown_parts(unknown):
    of_age, others = unknown.of_age, unknown.others
    said = [f"{counted(of_age, 'cable')} of unknown age: find out, measure, or change"] if of_age else []
    return said + ([f"{counted(others, 'cable')} without a due date: measure, or change"] if others else [])


@register.filter
def over_today(state):
    """Whether any cable of a mat is over the limit today: what was measured, what is estimated, what is neither."""
    said = []
    if state.measured_over:
        numbers = ", ".join(str(position.place.number) for position in state.measured_over)
        said.append(f"yes, measured: position{'s' * (len(state.measured_over) > 1)} {numbers}")
    if state.chance_any_over:
        others = "any other: " if said else ""
        said.append(f"{others}{_between(*map(percent, state.chance_any_over))} likely")
    if state.not_estimated:
        said.append(f"{counted(state.not_estimated, 'cable')} without an estimate")
    return "; ".join(said)


def _between(least, most):
    return least if least == most else f"{least} to {most}"


def _of_them_before(today, on):
    if today.before_on is None:
        return ""
    when = "today’s event" if today.before_on <= on else day_by_name(today.before_on, on)
    return f", {today.cables_before} of them before {when}"


_READING_ACTS = {
    "void": ReadingAct(
        "Make a reading void",
        "For a reading that never was so: a wrong number, or another cable. From today it does not count. It stays in "
        "every list, struck out, with your name and the reason. "
        "This cannot be undone: if it was right after all, enter it again.",
        "Make it void",
    ),
    "doubt": ReadingAct(
        "Mark a reading doubtful",
        "The reading keeps its verdict, but the trend leaves it out. Measure the cable again.",
        "Mark doubtful",
    ),
    "clear": ReadingAct(
        "No longer doubtful",
        "The doubt stays in the list of changes. Say below what settled it.",
        "Settle the doubt",
    ),
}
_STAGES = {
    Stage.WAITING: "Step 1 of 3: waiting to begin.",
    Stage.READING: "Step 2 of 3: reading the records and calculating the trend of {cables}.",
    Stage.WRITING: "Step 3 of 3: writing {cables}.",
    Stage.DONE: "Done: {cables} assessed.",
    Stage.FAILED: "The new values are saved, but the cables could not be assessed.",
}
_STEPS_DONE = {Stage.READING: 1, Stage.WRITING: 2}
_NO_POOL = {
    NoModelReason.ONE_TIME: NO_TREND[NoDateReason.ONE_TIME],
    NoModelReason.FEW_SEGMENTS: "fewer than five cables have readings on two days",
    NoModelReason.NO_FIT: NO_TREND[NoDateReason.NO_FIT],
}
_COUNTED = {
    Status.CHANGE_NOW: "to change now",
    Status.CHANGE_BEFORE: "to change before an event",
    Status.CHANGE_SOON: "to change within the look-ahead",
    Status.MEASURE: "to measure",
    Status.UNKNOWN: "unknown",
}
