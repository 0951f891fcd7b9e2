"""The causes of being due as columns of the assessed segments, and the status that follows."""

import numpy as np

from fleet.choices import FittedBasis

from ..models.assessments import READINGS_OF_A_RISE
from ..numeric import due
from ..numeric.calendar import NO_DAY, add_years, day_words
from ..numeric.verdicts import verdict
from ..numeric.words import Cause, MeasureReason, Status, TrendFrom, Verdict


def age_columns(state):
    first, limit_years = state.first, state.of_design("age_limit_years")
    return {
        "age_due_on": add_years(state.fittings.fitted_on[first], limit_years),
        "age_limit_years": limit_years,
        "age_basis": state.fittings.basis[first],
    }


def events_columns(state):
    limit = state.of_design("event_limit")
    cause = due.events_cause(state.fittings, state.current, state.logs, limit, state.day)
    return {
        "event_count": cause.count,
        "event_limit": limit,
        "not_confirmed": cause.not_confirmed,
        "events_due_on": cause.due_on,
        "events_basis": cause.basis,
    }


def loss_columns(state, newest):
    limit_db = state.of_design("loss_limit_db")
    judged = verdict(newest.reference_loss_db, newest.uncertainty_db, limit_db)
    judged = np.where(newest.no_signal, Verdict.OVER, judged)
    return {
        "measured_on": newest.day,
        "loss_db": newest.loss_db,
        "reference_loss_db": newest.reference_loss_db,
        "loss_uncertainty_db": newest.uncertainty_db,
        "loss_limit_db": limit_db,
        "verdict": judged,
        "loss_due_on": np.where(judged == Verdict.OVER, newest.day, NO_DAY),
    }


def damage_columns(state):
    due_on = np.full(len(state.current), NO_DAY)
    place = np.full(len(state.current), "", dtype=object)
    rows = {segment: row for row, segment in enumerate(state.segment.tolist())} if state.cable_faults else {}
    for segment, reported_on, where in state.cable_faults:
        row = rows.get(segment)
        if row is not None and np.isnat(due_on[row]):
            due_on[row], place[row] = np.datetime64(reported_on, "D"), where
    return {"damage_due_on": due_on, "damage_place": place}


def status_columns(state, columns, doubtful):
    """Earliest due date and its cause, the event it comes before, what to measure, and the status."""
    given = {cause: columns[f"{cause}_due_on"] for cause in Cause}
    due_on, cause = due.earliest(given)
    has_bench = state.has_bench()
    look_ahead_days = state.policy.value("look_ahead_days")
    usage_row = state.logs.first_planned_from(state.mat, due_on)
    starts_on, ends_on = np.append(state.usage.starts_on, NO_DAY), np.append(state.usage.ends_on, NO_DAY)
    needed_by = due.day_in_question(due_on, ends_on[usage_row], state.day, look_ahead_days)
    only_due_by_trend = due.only_due_by(Cause.TREND, given, needed_by)
    only_similar = has_bench & only_due_by_trend & (columns["trend_from"] == TrendFrom.SIMILAR)
    measure = np.where(only_similar, MeasureReason.SIMILAR_DUE, _measure_reason(state, columns, doubtful, has_bench))
    age_unknown = (columns["age_basis"] == FittedBasis.NOT_LATER_THAN) & np.isnat(columns["measured_on"])
    urgency = due.status_order(due_on, usage_row, measure, age_unknown, only_similar, state.day, look_ahead_days)
    event = np.append(state.usage.event, 0).astype(object)
    urgent_event_on = np.where(urgency == Status.CHANGE_BEFORE.order, starts_on[usage_row], NO_DAY)
    return {
        "due_on": due_on,
        "cause": cause,
        "measure_reason": measure,
        "urgency": urgency,
        "list_key": _list_keys(state, urgency, urgent_event_on, due_on),
        "before_event_id": np.where(usage_row >= 0, event[usage_row], None),
        "urgent_event_on": urgent_event_on,
    }


def _list_keys(state, urgency, urgent_event_on, due_on):
    """Texts that sort as the due list does: no day is written NaT, which stands after all days."""
    mat_number, position = state.fittings.mat_number[state.current], state.fittings.position[state.current]
    columns = (urgency, day_words(urgent_event_on), day_words(due_on), mat_number, position)
    parts = zip(*(column.tolist() for column in columns), strict=True)
    # a tab sorts before everything that a mat number may hold, so that M-1 stands before M-10
    return np.array([f"{u} {event} {due} {mat}\t{number:05}" for u, event, due, mat, number in parts], dtype=object)


def _measure_reason(state, columns, doubtful, has_bench):
    return due.measure_reason(
        columns["verdict"],
        doubtful,
        np.where(columns["trend_readings"] >= READINGS_OF_A_RISE, columns["trend_no_date_reason"], ""),
        has_bench,
        columns["measured_on"],
        state.fittings.fitted_on[state.first],
        state.of_design("measure_again_months"),
        state.day,
    )
