"""When, how sure and why, in sentences that can be read aloud: every word of the rules has its own."""

from datetime import date, timedelta
from types import SimpleNamespace

import pytest

from fleet.choices import FittedBasis
from inspections.assessment.reasons import Reason
from inspections.models import Assessment
from inspections.numeric.words import Cause, EventsBasis, MeasureReason, Status, TrendFrom, Verdict
from inspections.templatetags.condition_text import (
    chance_in_words,
    departure,
    expected,
    how_sure,
    no_trend_date,
    rests_on_readings,
    two_certainties,
    wander,
)

ON = date(2026, 9, 30)
BLANK = "\N{NO-BREAK SPACE}"


def said_of(bases, cause):
    return [how_sure(Reason(cause, ON, value=3, limit=3, basis=basis), Assessment()) for basis in bases]


def test_every_cause_says_how_sure_its_date_is():
    reasons = [Reason(cause, ON, basis=FittedBasis.KNOWN if cause == Cause.AGE else "") for cause in Cause]
    assert len({how_sure(reason, Assessment()) for reason in reasons}) == len(Cause)


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
    sentence = rests_on_readings(Assessment(trend_from=trend_from), alone)
    assert sentence.partition(".")[0] == f"Its trend is estimated {said}"
    assert ("Measure it" in sentence) == (trend_from == TrendFrom.SIMILAR)


def test_without_a_trend_nothing_is_estimated_from_anything():
    assert rests_on_readings(Assessment(), False) == ""


def estimated(chance_over, **values):
    row = {"loss_limit_db": 3.0, "accepted_risk": 0.05, "assessed_on": ON, **values}
    return Assessment(chance_over=chance_over, **row)


def test_the_chance_is_that_of_the_cable_itself_today_on_its_day_and_where_the_risk_is_reached():
    ahead = estimated(0.0021, due_on=date(2027, 1, 5), trend_due_on=date(2028, 3, 1))
    assert chance_in_words(ahead, 0.012) == (
        f"The chance that the cable itself is at 3{BLANK}dB or more is 0.2{BLANK}% today, 1{BLANK}% on 5 Jan 2027; "
        f"it reaches the accepted risk of 5{BLANK}% on 1 Mar 2028. "
        "Bench days and past steps are counted in, a crushed cable is not."
    )
    past = estimated(0.083, due_on=date(2026, 8, 2), trend_due_on=date(2026, 8, 2))
    assert f"is 8{BLANK}% today; it has been above the accepted risk of 5{BLANK}% since 2 Aug 2026." in (
        chance_in_words(past)
    )


def test_the_same_chance_on_two_days_is_said_once():
    said = chance_in_words(estimated(1e-9, due_on=date(2027, 1, 5)), 2e-9)
    assert f"is below 0.1{BLANK}% today and on 5 Jan 2027." in said


def test_no_chance_is_said_where_none_is_known():
    assert chance_in_words(estimated(None)) == ""


def test_the_expected_day_lies_ahead_or_behind():
    days = [ON - timedelta(1), ON, ON + timedelta(1), None]
    said = [expected(Assessment(loss_limit_db=3.0, trend_expected_on=day), ON) for day in days]
    assert said == [
        f"Its loss is expected to have been at 3{BLANK}dB since 29 Sep 2026.",
        f"Its loss is expected to have been at 3{BLANK}dB since 30 Sep 2026.",
        f"Its loss is expected to reach 3{BLANK}dB on 1 Oct 2026.",
        "",
    ]


def test_a_pool_that_wanders_says_by_how_much():
    assert wander(SimpleNamespace(wander_db=0.0988), "year") == "Cables of this pool wander by 0.10 dB in a year."
    assert wander(SimpleNamespace(wander_db=0.0044), "event") == "Cables of this pool wander by 0.004 dB in an event."
    assert [wander(fit, "year") for fit in (SimpleNamespace(wander_db=0.0), None)] == ["", ""]


def test_a_newest_reading_that_departs_is_to_be_taken_again_and_its_date_stands():
    said = [departure(Assessment(trend_departure=z, urgency=Status.OK.order)) for z in (4.1, -4.1, 3.9, None)]
    again = "The newest reading lies far from what was expected: measure again; the date stands."
    assert said == [again, again, "", ""]
    # not once more where its status says it
    asked = Assessment(trend_departure=5, urgency=Status.MEASURE.order, measure_reason=MeasureReason.NO_LINE)
    assert departure(asked) == ""


def test_a_trend_without_a_date_says_why():
    row = estimated(0.0, trend_rate_db=0.01, trend_no_date_reason="later than 40 years", event_count=0)
    assert no_trend_date(row) == "No date by trend: the limit is reached later than 40 years after fitting."
    assert no_trend_date(estimated(0.1, trend_rate_db=0.01, trend_due_on=ON, event_count=0)) == ""


def measured(verdict, chance_over, **values):
    row = {"measured_on": ON, "loss_db": 2.76, "loss_uncertainty_db": 0.15, "trend_from": TrendFrom.OWN, **values}
    return Assessment(verdict=verdict, chance_over=chance_over, **row)


def test_where_reading_and_chance_differ_one_sentence_each_says_what_they_rest_on():
    said = two_certainties(measured(Verdict.UNDECIDED, 0.002), alone=False)
    assert said == (
        "The reading of 30 Sep 2026 by itself is too close to the limit to tell: a single measurement has a standard "
        "uncertainty of 0.15 dB. The chance (0.2\N{NO-BREAK SPACE}%) differs: it takes out what the bench read "
        "high or low on each day, and weighs all readings of the cable and those of similar cables."
    )
    assert "differs: it weighs all readings of the cable." in two_certainties(
        measured(Verdict.UNDECIDED, 0.97), alone=True
    )
    similar = measured(Verdict.WITHIN, 0.3, trend_from=TrendFrom.SIMILAR)
    assert "is within the limit: " in two_certainties(similar, alone=False)
    assert "differs: it rests on similar cables alone." in two_certainties(similar, alone=False)
    assert two_certainties(measured(Verdict.OVER, 0.4), alone=False).endswith("is due all the same.")


def test_the_chance_beside_a_reading_that_departs_is_said_to_be_of_wear_alone():
    said = two_certainties(measured(Verdict.OVER, 1e-9, trend_departure=26), alone=False)
    assert "The chance (below 0.1" in said and "is of wear alone, which does not explain that reading" in said
    assert said.endswith("What was measured over is due all the same.")


@pytest.mark.parametrize(
    "row",
    [
        measured(Verdict.UNDECIDED, 0.5),
        measured(Verdict.WITHIN, 0.01),
        measured(Verdict.OVER, 0.99),
        measured(Verdict.OVER, 0.4, loss_db=None),
        measured("", 0.4),
        measured(Verdict.UNDECIDED, None),
    ],
)
def test_where_they_say_the_same_or_one_says_nothing_nothing_is_explained(row):
    assert two_certainties(row, alone=False) == ""


def test_of_a_cable_without_a_signal_nothing_is_said_of_its_wear():
    row = measured(Verdict.OVER, 0.0004, loss_db=None, trend_expected_on=ON, loss_limit_db=3.0)
    said = (expected(row, ON), chance_in_words(row), rests_on_readings(row, alone=False))
    assert said == ("", "", "")


def test_no_sentence_names_a_day_beyond_ten_years():
    last, far = date(2036, 9, 30), date(2036, 10, 1)
    near = estimated(0.01, trend_expected_on=last, trend_due_on=last, due_on=last)
    beyond = estimated(0.01, trend_expected_on=far, trend_due_on=far, due_on=far)
    assert "on 30 Sep 2036" in expected(near, ON) and "30 Sep 2036" in chance_in_words(near, 0.05)
    assert expected(beyond, ON) == f"Its loss is not expected to reach 3{BLANK}dB within 10 years."
    assert "does not reach the accepted risk" in chance_in_words(beyond, 0.05)
    assert "2036" not in chance_in_words(beyond, 0.05)
