"""The cells of the table of causes, and marks and statuses in words: every word of the rules has its own."""

from datetime import date

from inspections.assessment.reasons import Reason
from inspections.numeric.words import Cause, MeasureReason, Status, TrendFrom, Verdict
from inspections.templatetags.cause_text import mark_of, number_of, rests_on, status_words

ON = date(2026, 9, 30)


def test_a_trend_of_similar_cables_is_told_from_its_own_in_the_table():
    assert [rests_on(Reason(Cause.TREND, basis=basis)) for basis in TrendFrom] == ["own readings", "similar cables"]


def test_each_reason_to_measure_says_what_it_rests_on_in_words_of_its_own():
    said = {rests_on(Reason(Status.MEASURE, basis=basis, day=ON)) for basis in MeasureReason}
    assert len(said) == len(MeasureReason) and not said & set(MeasureReason)


def test_no_number_stands_where_there_is_none():
    assert [number_of(Reason(cause), ON, ON) for cause in (Cause.LOSS, Cause.DAMAGE, Status.MEASURE)] == ["", "", ""]


def test_the_chance_of_similar_cables_is_no_loss_of_a_cable_with_a_doubtful_reading():
    reason = Reason(Status.MEASURE, value=0.315, limit=3.0, basis=MeasureReason.SIMILAR_DUE, day=ON)
    assert number_of(reason, ON, ON) == "32\N{NO-BREAK SPACE}%"


def test_every_verdict_carries_the_mark_of_a_status():
    assert len({mark_of(verdict) for verdict in Verdict}) == len(Verdict)
    assert {mark_of(verdict) for verdict in Verdict} <= set(Status)


def test_a_status_names_its_event_and_the_days_where_they_are_known():
    assert status_words(Status.CHANGE_BEFORE, "Fen Half", 90) == "change before Fen Half"
    assert status_words(Status.CHANGE_SOON, "Fen Half", 90) == "change within 90 days"
    assert [status_words(status) for status in Status] == list(Status)


def test_what_a_cause_rests_on_says_what_its_number_and_day_do_not():
    too_close = Reason(Cause.LOSS, None, 2.9, 3.0, basis="undecided", day=ON)
    said = [
        (Reason(Cause.EVENTS, ON, 131, 150, basis="planned", event="Fen Half"), "planned: Fen Half"),
        (Reason(Cause.EVENTS, None, 0, 150), "the mat did not go out in the last year"),
        (Reason(Cause.EVENTS, ON, 160, 150, basis="reached", not_confirmed=2), "events that went, 2 not confirmed"),
        (Reason(Cause.TREND, None, 0.01, 3.0, basis="age not known"), "its age is not known"),
        (too_close, "undecided, measured 30 Sep 2026: measure again"),
        (Reason(Cause.DAMAGE, ON, basis="connector"), "connector fault reported"),
        (Reason(Status.MEASURE.value, basis="doubtful", day=ON), "the reading of 30 Sep 2026 is doubtful"),
    ]
    assert [rests_on(reason) for reason, _ in said] == [words for _, words in said]
