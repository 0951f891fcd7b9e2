"""Reasons in words: the cause with its number and its limit, whatever stands behind it."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from factories import fit, make_event, make_fault, make_mat, make_reading, make_segment, make_tester, make_usage_event

from inspections.assessment.reasons import Reason, reasons
from inspections.assessment.services import assess_pool, assessments
from inspections.models import Assessment, PolicyValue
from inspections.numeric.words import EventsBasis, MeasureReason, NoDateReason, NoModelReason
from inspections.templatetags.figures import how_long_before
from inspections.templatetags.page_text import no_pool
from inspections.templatetags.reason_text import in_words, newest_loss, stored_reasons, stored_why, why

ON = date(2026, 9, 30)


def row_of(segment):
    return next(row for row in assessments(ON) if row.segment_id == segment.pk)


@pytest.fixture
def mat(db):
    return make_mat("M-001")


@pytest.fixture
def segment(mat):
    segment = make_segment()
    fit(segment, mat, fitted_on=date(2025, 3, 1))
    return segment


def test_age_names_its_day_and_limit(segment):
    assert in_words(reasons(row_of(segment))[0]) == "3 years old on 1 Mar 2028 (limit 3 years)"


@pytest.mark.parametrize(
    ("basis", "said"),
    [
        ("not later than", "3 years old or more on 1 Mar 2028 (limit 3 years)"),
        ("about", "about 3 years old on 1 Mar 2028 (limit 3 years)"),
    ],
)
def test_an_age_that_is_guessed_says_so(mat, basis, said):
    segment = make_segment()
    fit(segment, mat, fitted_on=date(2025, 3, 1), fitted_basis=basis)
    assert in_words(reasons(row_of(segment))[0]) == said


def test_events_reached_and_planned_each_say_how_the_day_was_found(segment, mat):
    PolicyValue.objects.create(setting="event_limit", value=3)
    make_usage_event(mat, make_event(date(2026, 5, 2)))
    make_usage_event(mat, make_event(date(2026, 11, 1)), "planned")
    make_usage_event(mat, make_event(date(2026, 11, 8), name="Fen Half"), "planned")
    assert why(row_of(segment)) == "limit of 3 events expected at Fen Half (1 event so far)"
    make_usage_event(mat, make_event(date(2026, 8, 2)), counts_for=2)
    assert why(row_of(segment)) == "limit of 3 events reached on 2 Aug 2026 (3 events so far)"


def test_events_not_confirmed_are_named(segment, mat):
    make_usage_event(mat, make_event(date(2026, 9, 5)), "planned")
    assert [in_words(r) for r in reasons(row_of(segment)) if r.cause == "events"] == [
        "limit of 150 events not within 10 years at the usual rate (1 event so far); 1 not confirmed"
    ]


def test_a_loss_over_the_limit_names_reading_and_limit(segment):
    make_reading(segment, 3.4, date(2026, 9, 2), temperature_c=20)
    assert why(row_of(segment)) == "3.40 dB measured on 2 Sep 2026, limit 3 dB"


def test_no_signal_is_no_number(segment):
    make_reading(segment, None, date(2026, 9, 2))
    assert why(row_of(segment)) == "no signal on 2 Sep 2026: open or broken"


@pytest.mark.parametrize(
    ("set_limit_db", "said"),
    [
        (3.0, "over by a go/no-go tester on 30 Sep 2026, limit 3 dB"),
        (2.5, "the go/no-go tester of 30 Sep 2026 is not set to 3 dB: measure the loss"),
    ],
)
def test_what_a_go_no_go_tester_said_is_told_as_its_word(segment, set_limit_db, said):
    day = date(2026, 9, 30)
    make_reading(segment, go_no_go="over", measured_on=day, instrument=make_tester(set_limit_db))
    row = row_of(segment)
    assert (why(row), newest_loss(row)) == (said, f"{row.verdict} (go/no-go)")


def test_damage_names_place_and_day(segment, mat):
    make_fault(mat, "connector", 1, reported_on=date(2026, 9, 20))
    assert why(row_of(segment)) == "connector fault reported on 20 Sep 2026"


def test_what_asks_for_a_measurement_is_said(segment):
    make_reading(segment, 2.95, date(2026, 9, 2), temperature_c=20)
    assert why(row_of(segment)) == "2.95 dB measured on 2 Sep 2026, limit 3 dB: too close to the limit, measure again"


def test_reasons_survive_being_stored(segment, mat):
    make_reading(segment, 3.4, date(2026, 9, 2))
    make_fault(mat, "connector", 1, reported_on=date(2026, 9, 20))
    found = reasons(row_of(segment))
    assert stored_reasons([reason.as_json() for reason in found]) == found
    assert [reason.cause for reason in found] == ["damage", "loss", "age", "events"]


def test_every_reason_for_measuring_has_words():
    said = [in_words(Reason("measure", value=2.9, limit=3, basis=why, day=ON)) for why in MeasureReason]
    assert len(set(said)) == len(MeasureReason)


@pytest.mark.parametrize(
    ("days", "said"),
    [(0, "today"), (1, "1 day"), (60, "60 days"), (92, "3 months"), (365, "12 months"), (800, "2 years")],
)
def test_the_age_of_a_reading_is_told_in_the_unit_that_fits(days, said):
    assert how_long_before(ON - timedelta(days=days), ON) == said


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        (
            Reason("trend", date(2027, 1, 14), value=0.0312, limit=3.0, basis="own readings", accepted=0.05),
            "3 % likely to be over 3 dB, reaches the accepted risk of 5 % on 14 Jan 2027",
        ),
        (
            Reason("trend", date(2027, 1, 14), value=0.0002, limit=3.0, basis="similar cables", accepted=0.025),
            "below 0.1 % likely to be over 3 dB, reaches the accepted risk of 2.5 % on 14 Jan 2027"
            " (from similar cables)",
        ),
        (
            Reason("trend", date(2026, 3, 11), value=0.38, limit=3.0, basis="own readings", accepted=0.0001),
            "38 % likely to be over 3 dB, above the accepted risk of 0.01 % since 11 Mar 2026",
        ),
        (
            Reason("trend", date(2027, 1, 14), value=0.0312, limit=3.0, basis="own readings"),
            "3 % likely to be over 3 dB, too high from 14 Jan 2027",
        ),
        (
            Reason("measure", value=0.315, limit=3.0, basis="similar cables are due"),
            "32 % likely to be over 3 dB, estimated from similar cables and not measured",
        ),
        (
            Reason("trend", value=0.0, limit=3.0, basis="falling"),
            "no date by trend: the readings fall, but wear only raises the loss",
        ),
        (
            Reason("trend", value=0.0, limit=3.0, basis="similar cables fall"),
            "no date by trend: the readings of similar cables fall, but wear only raises the loss",
        ),
    ],
)
def test_a_trend_is_told_with_its_chance_or_why_it_has_no_date(reason, said):
    assert in_words(reason) == said.replace(" %", "\N{NO-BREAK SPACE}%")


def test_every_reason_for_no_trend_date_has_words_of_its_own():
    said = [in_words(Reason("trend", limit=3.0, basis=reason.value)) for reason in NoDateReason]
    assert all(sentence.startswith("no date by trend: ") for sentence in said)
    assert len(set(said)) == len(NoDateReason)


def test_every_reason_for_no_trend_of_the_pool_has_words_of_its_own():
    assert len({no_pool(reason) for reason in NoModelReason}) == len(NoModelReason)


def test_a_trend_names_the_risk_that_its_design_accepts(segment, mat):
    PolicyValue.objects.create(setting="accepted_risk", value=0.1)
    PolicyValue.objects.create(setting="accepted_risk", value=0.02, design=mat.design)
    assess_pool(ON)
    row = Assessment.objects.get(segment=segment)
    assert [reason.accepted for reason in reasons(row) if reason.cause == "trend"] == [0.02]


def test_a_sheet_says_it_in_short():
    short = Reason("age", date(2026, 9, 20), value=3, limit=3, basis="known")
    long = Reason("events", date(2026, 9, 20), value=131, limit=150, basis="planned", event="Fenmark Night Half")
    assert stored_why([short.as_json()]) == "3 years old on 20 Sep 2026"
    assert stored_why([long.as_json()]) == "limit of 150 events on 20 Sep 2026"


def test_a_sheet_always_says_where_a_trend_comes_from():
    trend = Reason("trend", date(2026, 9, 20), value=0.315, limit=3.0, basis="similar cables", accepted=0.05)
    assert stored_why([trend.as_json()]).endswith("(from similar cables)")


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        (Reason("age", basis="known", limit=20), "20 years old in more than 10 years"),
        (
            Reason("events", basis=EventsBasis.USUAL_RATE, value=3, limit=150),
            "limit of 150 events not within 10 years at the usual rate (3 events so far)",
        ),
        (
            Reason("trend", basis="own readings", value=0.0002, limit=3.0, accepted=0.05),
            "below 0.1 % likely to be over 3 dB, does not reach the accepted risk of 5 % within 10 years",
        ),
    ],
)
def test_a_reason_whose_day_is_far_names_none(reason, said):
    assert in_words(replace(reason, due_on=date(2075, 11, 14), far=True)).replace("\N{NO-BREAK SPACE}", " ") == said
