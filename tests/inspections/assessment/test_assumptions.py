"""What rests on a guess is said, with how the date would move within it and the one fact that would help most."""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_design, make_event, make_mat, make_reading, make_segment, make_usage_event

from inspections.assessment import assumptions as data
from inspections.assessment.assumptions import assumptions_of
from inspections.assessment.services import reassess
from inspections.models import Assessment, PolicyValue
from inspections.templatetags.assumption_text import ask_in_words, assumption_in_words, in_short

pytestmark = pytest.mark.django_db


def days_before(on, days):
    return on - timedelta(days=days)


def cable(on, fitted_on, *, basis="known", mat=None, **values):
    mat = mat or make_mat(design=make_design(lengths_m=[1.0]))
    segment = make_segment(**values)
    fit(segment, mat, 1, fitted_on, fitted_basis=basis)
    return segment, mat


def used(mat, on, times, basis="counted", state="went", first_days_ago=20, every=7):
    for number in range(times):
        day = days_before(on, first_days_ago + every * number)
        make_usage_event(mat, make_event(day), state, basis=basis)


def assumptions(segment, on):
    reassess(None, on=on)
    row = Assessment.objects.get(segment=segment)
    return assumptions_of([row], on)[segment.pk], row


def only(found, kind):
    (assumption,) = [assumption for assumption in found.each if assumption.kind == kind]
    return assumption


def no_bench():
    PolicyValue.objects.create(setting="has_bench", value=0)


def test_what_is_known_and_counted_rests_on_no_guess(on):
    segment, mat = cable(on, date(2025, 3, 1))
    used(mat, on, 3)
    found, _ = assumptions(segment, on)
    assert (found.each, found.ask, bool(found)) == ([], "", False)


@pytest.mark.parametrize(
    ("fitted_on", "first", "last", "said"),
    [
        (date(2024, 7, 1), date(2024, 1, 1), date(2024, 12, 31), "Fitted about 2024, so due between 1 Jan 2027"),
        (
            date(2024, 2, 15),
            date(2024, 2, 1),
            date(2024, 2, 29),
            "Fitted about February 2024, so due between 1 Feb 2027",
        ),
    ],
)
def test_about_moves_the_date_within_the_calendar_span_that_was_told(on, fitted_on, first, last, said):
    segment, mat = cable(on, fitted_on, basis="about")
    used(mat, on, 3)
    found, _ = assumptions(segment, on)
    assumption = only(found, "about")
    three = relativedelta(years=3)
    assert (assumption.due_from, assumption.due_to) == (first + three, last + three)
    assert found.ask == "when fitted"
    assert assumption_in_words(assumption).startswith(said)


def test_of_another_about_day_nothing_is_reckoned_and_that_is_said(on):
    segment, mat = cable(on, date(2024, 5, 3), basis="about")
    used(mat, on, 3)
    found, _ = assumptions(segment, on)
    assert not only(found, "about").estimated
    assert "How rough that is was not recorded" in assumption_in_words(found.each[0])
    assert found.ask == "when fitted"


def test_about_does_not_move_a_date_that_another_cause_decides(on):
    segment, mat = cable(on, date(2025, 7, 1), basis="about")
    used(mat, on, 40, every=5)
    PolicyValue.objects.create(setting="event_limit", value=42)
    found, row = assumptions(segment, on)
    assumption = only(found, "about")
    assert row.cause == "events"
    assert assumption.due_from == assumption.due_to == row.due_on
    assert "the date stays" in assumption_in_words(assumption)
    assert found.ask == ""


def test_an_unknown_age_has_a_last_day_only_and_the_bench_settles_it(on):
    segment, mat = cable(on, date(2025, 3, 1), basis="not later than")
    used(mat, on, 3)
    found, _ = assumptions(segment, on)
    assert only(found, "not later than").open
    assert found.ask == "one measurement"
    assert ask_in_words(found) == "One measurement would settle it."
    assert "Due on 1 Mar 2028 at the latest, and it may be due already" in assumption_in_words(found.each[0])


def test_without_a_bench_the_day_of_fitting_is_asked_for(on):
    no_bench()
    segment, mat = cable(on, date(2025, 3, 1), basis="not later than")
    used(mat, on, 3)
    assert assumptions(segment, on)[0].ask == "when fitted"


def test_once_measured_the_day_of_fitting_is_what_helps(on):
    segment, mat = cable(on, date(2025, 3, 1), basis="not later than")
    used(mat, on, 3)
    make_reading(segment, 1.0, days_before(on, 10), temperature_c=20)
    assert assumptions(segment, on)[0].ask == "when fitted"


def test_nothing_helps_what_is_due_whatever_its_age(on):
    segment, mat = cable(on, date(2020, 3, 1), basis="not later than")
    used(mat, on, 3)
    assert assumptions(segment, on)[0].ask == ""


def test_reported_use_moves_the_date_by_a_quarter_either_way(on):
    no_bench()
    PolicyValue.objects.create(setting="age_limit_years", value=40)
    segment, mat = cable(on, days_before(on, 800), events_before=60)
    used(mat, on, 40, basis="reported", every=8)
    found, row = assumptions(segment, on)
    assumption = only(found, "reported")
    assert (assumption.events, assumption.of_events, row.event_count) == (100, 100, 100)
    # 150 − 125 at 50 a year, and 150 − 75 at 30 a year, rounded up to whole days
    assert assumption.due_from == on + timedelta(days=183)
    assert assumption.due_to == on + timedelta(days=913)
    assert found.ask == "how often"
    assert in_short(found) == "events not counted one by one"


def test_usual_use_that_gave_way_is_no_assumption(on):
    segment, mat = cable(on, days_before(on, 800))
    make_usage_event(mat, make_event(on.replace(day=15)), basis="usual", counts_for=4)
    assert only(assumptions(segment, on)[0], "reported").events == 4
    make_usage_event(mat, make_event(on.replace(day=4)))
    found, row = assumptions(segment, on)
    assert (row.event_count, row.given_way, list(found.each)) == (1, 4, [])


def test_counted_events_do_not_move_with_the_reported_ones(on):
    PolicyValue.objects.create(setting="age_limit_years", value=40)
    segment, mat = cable(on, days_before(on, 360))
    used(mat, on, 20, every=8)
    used(mat, on, 20, basis="assumed", first_days_ago=200, every=7)
    assumption = only(assumptions(segment, on)[0], "reported")
    # 150 − 45 at 45 a year, 150 − 35 at 35 a year
    assert assumption.due_from == on + timedelta(days=-(-365 * 105 // 45))
    assert assumption.due_to == on + timedelta(days=-(-365 * 115 // 35))


def test_events_not_confirmed_are_named_with_the_date_without_them(on):
    no_bench()
    PolicyValue.objects.create(setting="age_limit_years", value=40)
    PolicyValue.objects.create(setting="event_limit", value=12)
    segment, mat = cable(on, days_before(on, 300))
    used(mat, on, 8, every=8)
    used(mat, on, 2, state="planned", first_days_ago=3, every=4)
    found, row = assumptions(segment, on)
    assumption = only(found, "not confirmed")
    assert (assumption.events, assumption.due_from) == (2, row.due_on)
    assert assumption.due_to == on + timedelta(days=-(-365 * 4 // 8))
    assert found.ask == "did it go"


def test_a_moved_cable_carries_the_reported_events_of_its_earlier_mat(on):
    earlier, later = (make_mat(design=make_design(lengths_m=[1.0])) for _ in range(2))
    segment = make_segment()
    fit(segment, earlier, 1, days_before(on, 300), days_before(on, 100))
    fit(segment, later, 1, days_before(on, 100))
    used(earlier, on, 5, basis="reported", first_days_ago=80, every=10)
    used(later, on, 3)
    assumption = only(assumptions(segment, on)[0], "reported")
    # of the five, those 110 and 120 days ago
    assert (assumption.events, assumption.of_events) == (2, 5)


def test_no_use_on_record_is_said_and_asked_for(on):
    no_bench()
    segment, _ = cable(on, date(2025, 3, 1))
    found, _ = assumptions(segment, on)
    assert in_short(found) == "no event recorded"
    assert found.ask == "how often"


def test_every_assumption_and_every_question_has_words_of_its_own(on):
    kinds = (data.ABOUT, data.NOT_LATER_THAN, data.REPORTED, data.NOT_CONFIRMED, data.NO_USE)
    found = [data.Assumption(kind, day=on, events=2, of_events=3, estimated=True, due_to=on) for kind in kinds]
    assert len({assumption_in_words(assumption) for assumption in found}) == len(kinds)
    assert len({in_short(data.Assumptions([assumption])) for assumption in found}) == len(kinds)
    facts = (data.WHEN_FITTED, data.ONE_MEASUREMENT, data.HOW_OFTEN, data.DID_IT_GO)
    assert len({ask_in_words(data.Assumptions([], fact)) for fact in facts} - {""}) == len(facts)


def test_the_number_of_queries_does_not_grow(on, keeper):
    def queries():
        reassess(None, on=on)
        rows = list(Assessment.objects.all())
        with CaptureQueriesContext(connection) as asked:
            assumptions_of(rows, on)
        return len(asked)

    cable(on, date(2025, 3, 1), basis="about")
    few = queries()
    for _ in range(12):
        _, mat = cable(on, date(2025, 3, 1), basis="not later than")
        used(mat, on, 2, basis="reported")
    assert queries() == few


def test_the_segment_page_and_the_due_list_say_it(keeper_client, today):
    no_bench()
    segment, mat = cable(today, today - timedelta(days=500), basis="not later than")
    used(mat, today, 3)
    for place in (f"/cables/{segment.serial}/", "/due/?by=cable"):
        page = keeper_client.get(place).content.decode()
        assert "it may be due already" in page
        assert "When was it fitted? That would help most." in page
    assert "Fitted on or before" in page
