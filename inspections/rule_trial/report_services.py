"""Rules against each other for the command `rules`, as plain data with numbers unrounded."""

from math import nan

from ..length_limits.report_services import finite_or_none
from ..numeric.rule_trial.answers import Spread
from .services import ALL_OF_IT, played


def simulated_report(trial):
    """[{"rule", …}] of a Trial, a year of the whole pool; None where nothing can be played."""
    question = trial.question
    return question and [_row(name, answer, question) for name, answer in played(question, ALL_OF_IT).answers]


def _row(name, answer, question):
    """Without an event on record nothing is known of those at risk."""
    at_risk = answer.events_over if answer.events else Spread(*3 * [nan])
    return {
        "rule": name.words,
        **_ends("cables_a_year", answer.cables),
        **_ends("events_at_risk", at_risk),
        **_ends("late", answer.late),
        "events_a_year": answer.events,
        "readings_a_year": answer.readings,
        "mats_checked_a_year": answer.mats_checked,
        "positions": len(question.places),
    }


def _ends(name, spread):
    values = {name: spread.mean, f"{name}_low": spread.low, f"{name}_high": spread.high}
    return {key: finite_or_none(value) for key, value in values.items()}
