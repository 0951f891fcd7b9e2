"""Which mat goes on the table on which day, and which will not be ready for its event."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import (
    log_usage_event,
    make_depot,
    make_event,
    make_plain_design,
    make_plain_mat,
    set_policy_value,
)

from inspections.assessment.policy_in_force import current_policy
from inspections.assessment.services import assess_pool
from inspections.calendar.plan_selectors import Hindrance, depot_plans
from inspections.calendar.table_time_selectors import work_days_of
from inspections.choices import CABLES_ON
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db
# a Monday
ON = date(2026, 11, 30)
OLD = ON - timedelta(days=2000)
TUESDAY, WEDNESDAY, THURSDAY, FRIDAY, SATURDAY = (ON + timedelta(days=days) for days in range(1, 6))


@pytest.fixture
def due(keeper):
    """`due("M-1", 3)`: a mat with three cables due since long, planned for events on the days named."""

    def make(number, cables, *going, fitted_on=OLD, **values):
        mat = make_plain_mat(make_plain_design(cables), number=number, fitted=True, fitted_on=fitted_on, **values)
        for first, days in going:
            log_usage_event(mat, make_event(first, days), by=keeper, on=ON, state="planned")
        return mat

    return make


@pytest.fixture
def works_on(keeper):
    def says(*cables, depot=None):
        """Cables for each weekday, Monday first; the rest of the week none."""
        values = [*cables, *[0] * 7][:7]
        for setting, value in zip(CABLES_ON, values, strict=True):
            set_policy_value(setting.name, value, depot=depot, by=keeper, on=ON)

    return says


def plan(**asked):
    assess_pool(ON)
    return depot_plans(ON, **asked)


def days(plans):
    """{mat number: [(day, cables)]}"""
    return {work.mat.number: list(work.shares) for depot in plans for work in depot.works}


def late(plans):
    return {work.mat.number: work.hindrance for depot in plans for work in depot.late}


def test_the_mat_with_the_earlier_event_comes_first_whatever_its_number(due):
    due("M-1", 8, (SATURDAY, 1))
    due("M-2", 8, (FRIDAY, 1))
    assert days(plan()) == {"M-2": [(ON, 8)], "M-1": [(TUESDAY, 8)]}


def test_work_goes_over_to_the_next_day_of_work_and_leaves_out_the_weekend(due, works_on):
    works_on(0, 0, 0, 0, 3)
    due("M-1", 5)
    assert days(plan()) == {"M-1": [(FRIDAY, 3), (FRIDAY + timedelta(days=7), 2)]}


def test_a_mat_that_is_out_waits_until_it_is_home(due):
    due("M-1", 4, (ON - timedelta(days=1), 3), (SATURDAY, 1))
    (depot,) = plan()
    (work,) = depot.works
    assert (work.home, work.shares) == (((WEDNESDAY, FRIDAY),), ((WEDNESDAY, 4),))
    assert not depot.late


def test_a_mat_that_came_home_early_is_home(due, keeper):
    mat = due("M-1", 4, (ON - timedelta(days=1), 3))
    mat.usage_events.update(state="went", home_on=ON)
    assert days(plan()) == {"M-1": [(ON, 4)]}


def test_a_mat_that_goes_every_day_until_its_event_is_named_with_the_event(due):
    due("M-1", 2, (ON, 2), (WEDNESDAY, 2))
    plans = plan()
    (work,) = plans[0].late
    assert (work.hindrance, work.event.starts_on, work.first_day) == (Hindrance.AWAY, WEDNESDAY, FRIDAY)


def test_a_mat_with_more_cables_than_its_days_at_home_have_room_for_is_named(due, works_on):
    works_on(3, 3, 3)
    due("M-1", 8, (WEDNESDAY, 1))
    assert late(plan()) == {"M-1": Hindrance.TOO_SHORT}


def test_one_mat_that_cannot_be_ready_does_not_keep_the_others_from_it(due, works_on):
    works_on(4, 4, 0, 0, 4)
    due("M-1", 9, (WEDNESDAY, 1))
    due("M-2", 4, (WEDNESDAY, 1))
    due("M-3", 4, (WEDNESDAY, 1))
    plans = plan()
    assert list(late(plans)) == ["M-1"]
    assert days(plans)["M-2"] == [(ON, 4)] and days(plans)["M-3"] == [(TUESDAY, 4)]


def test_where_the_others_take_the_time_that_is_the_reason(due, works_on):
    works_on(4)
    for number in (1, 2):
        due(f"M-{number}", 4, (WEDNESDAY, 1))
    assert list(late(plan()).values()) == [Hindrance.NO_ROOM]


def test_a_depot_where_nobody_works_says_so(due, works_on):
    works_on()
    due("M-1", 1, (WEDNESDAY, 1))
    due("M-2", 1)
    (depot,) = plan()
    assert depot.work_days.is_none and str(depot.work_days) == "no day of work"
    assert late([depot]) == {"M-1": Hindrance.NO_WORK_DAYS}
    assert [work.mat.number for work in depot.without_days] == ["M-2"]


def test_mats_without_an_event_come_after_those_that_have_one_longest_due_first(due, works_on):
    works_on(1, 1, 1)
    due("M-1", 1)
    due("M-2", 1, fitted_on=OLD - timedelta(days=9))
    due("M-3", 1, (ON + timedelta(days=40), 1))
    assert days(plan()) == {"M-3": [(ON, 1)], "M-2": [(TUESDAY, 1)], "M-1": [(WEDNESDAY, 1)]}


def test_a_cable_that_is_fit_for_the_next_event_is_to_be_ready_for_the_one_after_its_day(due):
    fitted_on = date(2023, 12, 10)
    due("M-1", 1, (SATURDAY, 1), (date(2026, 12, 12), 1), fitted_on=fitted_on)
    (depot,) = plan()
    (work,) = depot.works
    assert (work.due_on, work.event.starts_on) == (date(2026, 12, 10), date(2026, 12, 12))
    assert work.home == ((ON, FRIDAY), (date(2026, 12, 6), date(2026, 12, 11)))


def test_what_is_due_behind_the_look_ahead_is_left_for_later(due, keeper):
    due("M-1", 1, (date(2027, 9, 1), 1), fitted_on=date(2024, 8, 1))
    assert plan() == []


def test_a_dated_work_order_stays_on_its_day_and_takes_its_time(due, keeper, works_on):
    works_on(4, 4, 4)
    first, other = due("M-1", 3), due("M-2", 4, (THURSDAY, 1))
    assess_pool(ON)
    cables = [fitting.segment_id for fitting in first.fittings.all()]
    raise_work_orders(cables, by=keeper, on=ON, planned_on=ON)
    (depot,) = plan()
    assert days([depot]) == {"M-1": [(ON, 3)], "M-2": [(ON, 1), (TUESDAY, 3)]}
    assert [work.order is not None for work in depot.works] == [True, False]
    assert other.number == depot.works[1].mat.number


def test_a_dated_order_after_the_event_or_on_a_day_away_is_named(due, keeper):
    mat = due("M-1", 1, (TUESDAY, 2))
    assess_pool(ON)
    raise_work_orders([mat.fittings.get().segment_id], by=keeper, on=ON, planned_on=TUESDAY)
    (depot,) = plan()
    (work,) = depot.late
    assert (work.hindrance, work.away_that_day) == (Hindrance.ORDER_LATE, True)


def test_orders_above_the_room_of_their_day_are_said(due, keeper, works_on):
    works_on(2)
    mat = due("M-1", 3)
    assess_pool(ON)
    raise_work_orders([fitting.segment_id for fitting in mat.fittings.all()], by=keeper, on=ON, planned_on=ON)
    (depot,) = plan()
    assert depot.weeks[0].days[0].too_many == 1


def test_each_depot_has_a_table_of_its_own(due, works_on):
    quay, mill = make_depot("Quay"), make_depot("Mill")
    works_on(2, 2, 2, 2, 2, depot=mill)
    due("M-1", 4, depot=mill)
    due("M-2", 4, depot=quay)
    due("M-3", 4)
    plans = plan()
    assert [depot.depot and depot.depot.name for depot in plans] == ["Mill", "Quay", None]
    assert [depot.work_days.said for depot in plans] == [True, False, False]
    assert days(plans) == {"M-1": [(ON, 2), (TUESDAY, 2)], "M-2": [(ON, 4)], "M-3": [(ON, 4)]}
    assert list(days(plan(depot=mill))) == ["M-1"]


def test_the_days_of_work_are_told_in_words(works_on):
    words = []
    for said in ((8, 8, 8, 8, 8), (8, 0, 8), (1, 4), (2,) * 7):
        works_on(*said)
        words.append(str(work_days_of(current_policy(), None)))
    assert words == [
        "Monday to Friday: 8 cables a day",
        "Monday and Wednesday: 8 cables a day",
        "Monday: 1 cable a day, Tuesday: 4 cables a day",
        "Monday to Sunday: 2 cables a day",
    ]


def test_queries_do_not_grow_with_mats(due, keeper):
    due("M-1", 2, (FRIDAY, 1))
    assess_pool(ON)
    with CaptureQueriesContext(connection) as few:
        depot_plans(ON)
    for number in range(2, 8):
        due(f"M-{number}", 2, (ON + timedelta(days=number), 1), depot=make_depot())
    assess_pool(ON)
    with CaptureQueriesContext(connection) as many:
        depot_plans(ON)
    assert len(many) == len(few) <= 6
