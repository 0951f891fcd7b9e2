"""How sure a date is, and the cells of the table of causes: every word of the rules has its own."""

from datetime import date

import pytest

from fleet.choices import FittedBasis
from inspections.assessment.reasons import Reason
from inspections.models import Assessment
from inspections.numeric.words import Cause, EventsBasis, MeasureReason, Status, TrendFrom, Verdict
from inspections.templatetags.cause_text import (
    how_sure,
    mark_of,
    number_of,
    of_trend,
    rests_on,
    status_words,
    two_certainties,
)

ON = date(2026, 9, 30)


def said_of(bases, cause, row=None):
    return [how_sure(Reason(cause, ON, value=3, limit=3, basis=basis), row or Assessment(), False) for basis in bases]


def test_every_cause_says_how_sure_its_date_is():
    reasons = [Reason(cause, ON, basis=FittedBasis.KNOWN if cause == Cause.AGE else "") for cause in Cause]
    assert len({how_sure(reason, Assessment(), False) for reason in reasons}) == len(Cause)


@pytest.mark.parametrize(("bases", "cause"), [(FittedBasis, Cause.AGE), (EventsBasis, Cause.EVENTS)])
def test_every_basis_says_how_sure_its_date_is(bases, cause):
    assert len(set(said_of(bases, cause))) == len(bases)


@pytest.mark.parametrize(
    ("trend_from", "alone", "said"),
    [
        (TrendFrom.OWN, False, "from its own readings and those of similar cables"),
        (TrendFrom.OWN, True, "from its own readings"),
        (TrendFrom.SIMILAR, False, "from similar cables: it has no reading of its own that counts"),
    ],
)
def test_a_trend_says_whose_readings_it_rests_on(trend_from, alone, said):
    sentence = how_sure(Reason(Cause.TREND, ON), Assessment(trend_from=trend_from), alone)
    assert sentence.partition(".")[0] == f"Estimated {said}"


def test_a_trend_of_similar_cables_is_told_from_its_own_in_the_table():
    bases = (*TrendFrom, MeasureReason.SIMILAR_DUE)
    assert len({rests_on(Reason(Cause.TREND, basis=basis)) for basis in bases}) == len(bases)
    assert not any("kind is due" in rests_on(Reason(Status.MEASURE, basis=basis)) for basis in bases)


def test_no_number_stands_where_there_is_none():
    assert [number_of(Reason(cause), ON, ON) for cause in (Cause.LOSS, Cause.DAMAGE, Status.MEASURE)] == ["", "", ""]


def test_the_chance_of_similar_cables_is_no_loss_of_a_cable_with_a_doubtful_reading():
    reason = Reason(Status.MEASURE, value=0.315, limit=3.0, basis=MeasureReason.SIMILAR_DUE, day=ON)
    assert number_of(reason, ON, ON) == "31.5\N{NO-BREAK SPACE}%"


def test_every_verdict_carries_the_mark_of_a_status():
    assert len({mark_of(verdict) for verdict in Verdict}) == len(Verdict)
    assert {mark_of(verdict) for verdict in Verdict} <= set(Status)


def test_a_status_names_its_event_and_the_days_where_they_are_known():
    assert status_words(Status.CHANGE_BEFORE, "Fen Half", 90) == "change before Fen Half"
    assert status_words(Status.CHANGE_SOON, "Fen Half", 90) == "change within 90 days"
    assert [status_words(status) for status in Status] == list(Status)


def test_the_trend_is_found_among_the_reasons():
    trend = Reason(Cause.TREND)
    assert of_trend([Reason(Cause.AGE), trend]) is trend
    assert of_trend([Reason(Cause.AGE)]) is None


def measured(verdict, chance_over, **values):
    row = {"measured_on": ON, "loss_db": 2.76, "loss_uncertainty_db": 0.15, "trend_from": TrendFrom.OWN, **values}
    return Assessment(verdict=verdict, chance_over=chance_over, **row)


def test_where_reading_and_chance_differ_one_sentence_each_says_what_they_rest_on():
    said = two_certainties(measured(Verdict.UNDECIDED, 0.002), alone=False)
    assert said == (
        "The reading of 30 Sep 2026 by itself is too close to the limit to tell: a single measurement has a standard "
        "uncertainty of 0.15 dB. The chance of 0.2\N{NO-BREAK SPACE}% differs, because it weighs all its readings, and "
        "those of similar cables."
    )
    assert "weighs all its readings." in two_certainties(measured(Verdict.UNDECIDED, 0.97), alone=True)
    similar = measured(Verdict.WITHIN, 0.3, trend_from=TrendFrom.SIMILAR)
    assert "is within the limit: " in two_certainties(similar, alone=False)
    assert "weighs similar cables alone." in two_certainties(similar, alone=False)
    assert two_certainties(measured(Verdict.OVER, 0.4), alone=False).endswith("is due all the same.")


@pytest.mark.parametrize(
    "row",
    [
        measured(Verdict.UNDECIDED, 0.5),
        measured(Verdict.WITHIN, 0.01),
        measured(Verdict.OVER, 0.99),
        measured(Verdict.OVER, 0.4, loss_db=None),
        measured("", 0.4),
        measured(Verdict.UNDECIDED, None),
        measured(Verdict.UNDECIDED, 0.001, trend_no_date_reason="does not follow a line"),
    ],
)
def test_where_they_say_the_same_or_one_says_nothing_nothing_is_explained(row):
    assert two_certainties(row, alone=False) == ""
