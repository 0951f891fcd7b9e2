"""Rules against each other as a table, numbered as their points in the picture are."""

import django_tables2 as tables
from django.utils.text import capfirst

from ..tables import PlainTable, named
from ..templatetags.figures import percent
from ..templatetags.limit_text import BEYOND


def spread_in_words(spread):
    """`34 (31 to 38)`: whole from ten on, with one place below."""
    low, high = (_number(end) for end in (spread.low, spread.high))
    middle = _number(spread.mean)
    return middle if low == high else f"{middle} ({low} to {high})"


def _number(value):
    rounded = round(value, 1)
    return f"{value:.0f}" if rounded >= 10 or rounded == 0 else f"{rounded:.1f}"


def events_over_in_words(answer):
    """Nothing is known of them where no mat went to an event."""
    return spread_in_words(answer.events_over) if answer.events else "not known"


def mean_stay(answer, places):
    """Years for which a cable stays in, on average; inf where none goes out."""
    return places / answer.cables.mean if answer.cables.mean else float("inf")


def stay_in_words(answer, trial):
    """`3.0 years`, and whether anybody watched a cable for so long."""
    years = mean_stay(answer, len(trial.question.places))
    if years == float("inf"):
        return "for good"
    words = f"{_number(years)} years"
    return f"{words}, {BEYOND}" if years > trial.limits.watched_until_years else words


def hours_a_year(answer, minutes):
    per_mat, per_reading = minutes
    return (answer.mats_checked * per_mat + answer.readings * per_reading) / 60


def _column(heading, css=""):
    return tables.Column(heading, empty_values=(), attrs={"cell": {"class": css, "data-name": named(heading)}})


class RuleTable(PlainTable):
    """Rows: (RuleName, RuleAnswer), each with its number."""

    rule = tables.Column("Rule", empty_values=(), attrs={"cell": {"class": "at-lead strong"}})
    cables = _column("Cables a year")
    stay = _column("Cables stay")
    events = _column("Events with a cable over")
    late = _column("Changed too late")
    bench = _column("At the bench")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Rules against each other, a year of the whole pool"}

    def __init__(self, trial, answers, minutes):
        self.trial, self.minutes = trial, minutes
        super().__init__([{"number": number, "name": name, "answer": a} for number, (name, a) in enumerate(answers, 1)])

    def render_rule(self, record):
        return f"{record['number']}. {capfirst(record['name'].words)}"

    def render_cables(self, record):
        return spread_in_words(record["answer"].cables)

    def render_stay(self, record):
        return stay_in_words(record["answer"], self.trial)

    def render_events(self, record):
        answer = record["answer"]
        words = events_over_in_words(answer)
        return f"{words}, {percent(answer.events_over.mean / answer.events)}" if answer.events else words

    def render_late(self, record):
        return spread_in_words(record["answer"].late)

    def render_bench(self, record):
        answer = record["answer"]
        if not answer.readings:
            return "nothing"
        if self.minutes:
            return f"{hours_a_year(answer, self.minutes):.0f} hours"
        return f"{answer.mats_checked:.0f} mats, {answer.readings:.0f} readings"
