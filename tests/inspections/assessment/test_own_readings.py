"""Where own readings decide: a cable that a bench vouches for is not due by its age or its events."""

from datetime import date, timedelta

import pytest
from factories import (
    fit,
    make_depot,
    make_design,
    make_event,
    make_fault,
    make_mat,
    make_reading,
    make_segment,
    make_usage_event,
)

from inspections.assessment import services
from inspections.assessment.reasons import reasons
from inspections.models import Assessment, PolicyValue
from inspections.templatetags.reason_text import in_words

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
FITTED_ON = date(2022, 10, 1)
NEWEST = date(2026, 9, 1)


def set_policy(setting, value, **place):
    PolicyValue.objects.create(setting=setting, value=value, **place)


def make_measured(mat=None, position=1, newest_on=NEWEST, newest_db=1.2, rate_db=0.1):
    """A cable of four years, past the age limit, read once a year along a line; the last time on `newest_on`."""
    segment = make_segment(length_m=2.1)
    fit(segment, mat or make_mat(), position, FITTED_ON)
    for years_ago in (3, 2, 1):
        day = newest_on - timedelta(365 * years_ago)
        make_reading(segment, newest_db - rate_db * years_ago, day, temperature_c=20)
    make_reading(segment, newest_db, newest_on, temperature_c=20)
    return segment


def assessed(segment):
    services.assess_pool(ON)
    return Assessment.objects.get(segment=segment)


def test_by_default_age_counts_whatever_was_measured():
    row = assessed(make_measured())
    assert (row.status, row.cause, row.age_applies, row.measured_sound) == ("change now", "age", True, True)


def test_a_cable_with_fresh_readings_of_its_own_is_not_due_by_age():
    set_policy("own_readings_decide", 1)
    row = assessed(make_measured())
    assert (row.status, row.age_applies, row.events_applies) == ("ok", False, False)
    assert row.due_on == row.trend_due_on and row.cause == "trend"
    age = next(reason for reason in reasons(row) if reason.cause == "age")
    assert (age.applies, age.reached, age.due_on) == (False, False, date(2025, 10, 1))
    assert in_words(age) == "its own readings decide; by age it would be due on 1 Oct 2025"


def test_nor_by_its_events_and_no_event_that_is_planned_makes_it_so():
    set_policy("own_readings_decide", 1)
    set_policy("event_limit", 2)
    mat = make_mat()
    segment = make_measured(mat)
    for days in (300, 200, 100):
        make_usage_event(mat, make_event(ON - timedelta(days)))
    make_usage_event(mat, make_event(ON + timedelta(10)), "planned")
    row = assessed(segment)
    assert (row.event_count, row.events_due_on is not None, row.cause) == (3, True, "trend")
    assert row.status == "ok" and row.before_event is None


def test_a_design_may_have_it_of_its_own():
    design = make_design()
    set_policy("own_readings_decide", 1, design=design)
    of_design, other = make_measured(make_mat(design=design)), make_measured(make_mat(design=make_design()))
    services.assess_pool(ON)
    applies = dict(Assessment.objects.values_list("segment", "age_applies"))
    assert applies == {of_design.pk: False, other.pk: True}


@pytest.mark.parametrize("bench", [True, False])
def test_a_reading_that_grew_old_asks_to_be_measured_where_there_is_a_bench(bench):
    set_policy("own_readings_decide", 1)
    depot = make_depot()
    set_policy("has_bench", bench, depot=depot)
    row = assessed(make_measured(make_mat(depot=depot), newest_on=ON - timedelta(400)))
    # age applies again; only a new reading is missing
    assert (row.age_applies, row.cause) == (True, "age")
    assert row.status == ("measure" if bench else "change now")
    assert row.measure_reason == ("measured long ago" if bench else "")


def test_a_reading_that_grew_old_asks_for_nothing_less_where_the_cable_is_damaged():
    set_policy("own_readings_decide", 1)
    mat = make_mat()
    segment = make_measured(mat, newest_on=ON - timedelta(400))
    make_fault(mat, "connector", 1, reported_on=ON)
    row = assessed(segment)
    assert (row.status, row.cause) == ("change now", "damage")


@pytest.mark.parametrize(
    "change",
    [
        {"doubt_reason": "lead was loose"},
        # too close to the limit for its uncertainty
        {"loss_db": 2.95},
        {"loss_db": None, "no_signal": True},
    ],
)
def test_a_newest_reading_that_is_not_surely_within_vouches_for_nothing(change):
    set_policy("own_readings_decide", 1)
    segment = make_measured()
    segment.measurements.filter(measured_on=NEWEST).update(**change)
    row = assessed(segment)
    assert row.age_applies and row.status == "change now" and not row.measured_sound


def test_one_reading_is_no_trend_of_its_own():
    set_policy("own_readings_decide", 1)
    segment = make_segment()
    fit(segment, make_mat(), 1, FITTED_ON)
    make_reading(segment, 1.0, NEWEST, temperature_c=20)
    row = assessed(segment)
    assert (row.status, row.age_applies) == ("change now", True)


def test_limits_that_are_off_are_no_causes():
    set_policy("age_limit_years", 0)
    set_policy("event_limit", 0)
    mat = make_mat()
    segment = make_segment()
    fit(segment, mat, 1, FITTED_ON)
    make_usage_event(mat, make_event(ON - timedelta(30)))
    row = assessed(segment)
    assert (row.age_due_on, row.age_limit_months, row.event_limit, row.events_due_on) == (None, None, None, None)
    assert (row.event_count, row.due_on) == (1, None)
    # nothing dates it and no reading speaks for it
    assert row.status in ("measure", "unknown")


def test_a_limit_of_a_position_holds_for_that_position_of_that_design_alone():
    design = make_design()
    set_policy("age_limit_years", 1.5, design=design, position=2)
    set_policy("age_limit_years", 0, design=design)
    first, other = make_mat(design=design, fitted=True), make_mat(design=make_design(), fitted=True)
    services.assess_pool(ON)
    months = {
        (row.mat_id, row.position): row.age_limit_months
        for row in Assessment.objects.filter(mat__in=[first, other], position__in=[1, 2])
    }
    assert months == {(first.pk, 1): None, (first.pk, 2): 18, (other.pk, 1): 36, (other.pk, 2): 36}
