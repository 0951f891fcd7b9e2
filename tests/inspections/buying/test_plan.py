"""What to buy and by when: the shelf and work orders first, then single cables or sets, whichever cost less."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_cable_type, make_design, make_mat, make_price, make_segment

from fleet.models import DesignPosition, Mat, MatDesign
from inspections.assessment.services import assess_pool
from inspections.buying.plan_selectors import first_order, purchase_plan
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db
ON = date(2026, 5, 20)


@pytest.fixture
def thin():
    return make_cable_type("thin")


def due(day, length_m=1.0, cable_type=None, design=None, **values):
    """A cable in a mat of its own that is due by age on that day: three years after it was fitted."""
    design = design or make_design(lengths_m=(length_m,), cable_type=cable_type)
    cable = make_segment(length_m, cable_type=cable_type, **values)
    fit(cable, make_mat(design=design), fitted_on=day.replace(year=day.year - 3))
    return cable


def planned(on=ON):
    assess_pool(on)
    return purchase_plan(on)


def only_kind(plan):
    (kind,) = plan.kinds
    return kind


def test_the_shelf_meets_the_soonest_needs_and_the_rest_is_bought_in_time(thin):
    """Worked by hand: three due, one on the shelf; three weeks from the order to the day it is needed."""
    for day in (date(2026, 9, 1), date(2026, 7, 1), date(2026, 11, 5)):
        due(day, cable_type=thin)
    make_segment(1.0, cable_type=thin)
    make_price(thin, 1.0, "12.50", lead_time_days=21, supplier_number="A-1")
    kind = only_kind(planned())
    assert (kind.needed, kind.on_shelf, kind.to_buy) == (3, 1, 2)
    assert kind.missing == (date(2026, 9, 1), date(2026, 11, 5))
    assert (kind.buy_by, kind.cost, kind.offer.supplier_number) == (date(2026, 8, 11), Decimal("25.00"), "A-1")


def test_what_is_due_already_is_needed_today_and_ordered_late(thin):
    due(date(2026, 2, 1), cable_type=thin)
    make_price(thin, None, "9", lead_time_days=14)
    plan = planned()
    assert only_kind(plan).missing == (ON,)
    assert plan.first_buy_by == date(2026, 5, 6)
    assert [(month.first, month.cost) for month in plan.months if month.cables] == [(date(2026, 5, 1), Decimal(9))]


def test_nothing_is_bought_for_what_is_due_after_the_twelve_months(thin):
    due(ON + timedelta(days=364), cable_type=thin)
    due(ON + timedelta(days=365), 2.0, cable_type=thin)
    assert [kind.length_m for kind in planned().kinds] == [1.0]


def test_a_work_order_takes_from_the_shelf_first_whatever_its_cable_is_worth(thin):
    """The one that is due in July would have had the cable on the shelf."""
    due(date(2026, 7, 1), cable_type=thin)
    sound = due(date(2028, 7, 1), cable_type=thin)
    make_segment(1.0, cable_type=thin)
    assert only_kind(planned()).to_buy == 0
    raise_work_orders([sound.pk], by=None, on=ON)
    kind = only_kind(purchase_plan(ON))
    assert (kind.needed, kind.on_orders, kind.missing) == (2, 1, (date(2026, 7, 1),))


def test_a_cable_on_a_work_order_that_is_due_too_is_needed_once(thin):
    cable = due(date(2026, 4, 1), cable_type=thin)
    assess_pool(ON)
    raise_work_orders([cable.pk], by=None, on=ON)
    kind = only_kind(purchase_plan(ON))
    assert (kind.needed, kind.on_orders) == (1, 1)


def test_what_goes_in_is_what_the_design_asks_for_whatever_was_in_there(thin):
    design = make_design(lengths_m=(1.1,), cable_type=make_cable_type("thick"))
    due(date(2026, 7, 1), 0.9, cable_type=thin, design=design)
    assert only_kind(planned()).kind == ("thick", 1.1)


def test_an_empty_position_is_a_need_of_today_unless_the_mat_never_held_a_cable(thin):
    design = make_design(lengths_m=(1.0, 1.0), cable_type=thin)
    half = make_mat(design=design)
    fit(make_segment(1.0, cable_type=thin), half, 2, fitted_on=date(2026, 1, 5))
    make_mat(design=design)
    plan = planned()
    assert (only_kind(plan).missing, plan.empty, plan.bare) == ((ON,), 1, 2)


def test_a_length_that_nobody_measured_says_so(thin):
    due(date(2026, 7, 1), cable_type=thin)
    assert not planned().measure_first
    DesignPosition.objects.update(length_basis="estimated")
    assert planned().measure_first


def test_lengths_a_hair_apart_are_one_kind(thin):
    for length_m in (1.0, 1.0004):
        due(date(2026, 7, 1), length_m, cable_type=thin)
    make_segment(0.9999, cable_type=thin)
    make_price(thin, 1.0002, "3")
    kind = only_kind(planned())
    assert (kind.needed, kind.on_shelf, kind.cost) == (2, 1, Decimal(3))


def test_of_a_length_without_its_own_lead_time_that_of_the_type_holds(thin):
    due(date(2026, 9, 1), cable_type=thin)
    make_price(thin, 1.0, "12.50")
    make_price(thin, None, None, lead_time_days=30, supplier_number="thin")
    offer = only_kind(planned()).offer
    assert (offer.price, offer.lead_time_days, offer.supplier_number) == (Decimal("12.50"), 30, "thin")


def test_without_a_price_list_it_is_said_what_is_missing_and_nothing_of_money(thin):
    due(date(2026, 9, 1), cable_type=thin)
    plan = planned()
    assert (only_kind(plan).buy_by, only_kind(plan).cost, plan.cost, plan.unpriced) == (None, None, 0, 1)
    assert [month.first for month in plan.months if month.unpriced] == [date(2026, 9, 1)]


def two_lengths(thin, months=(7, 8)):
    """A design of two positions, both of which fall due in each of these months."""
    design = make_design("two", lengths_m=(1.0, 2.0), cable_type=thin)
    for month in months:
        mat = make_mat(design=design)
        for position, length_m in ((1, 1.0), (2, 2.0)):
            fit(make_segment(length_m, cable_type=thin), mat, position, fitted_on=date(2023, month, 1))
    make_price(thin, 1.0, "10", lead_time_days=10)
    make_price(thin, 2.0, "15", lead_time_days=10)
    return design


def test_sets_are_bought_where_they_cost_less_each_for_the_soonest_needs(thin):
    make_price(design=two_lengths(thin), price="22", lead_time_days=30)
    plan = planned()
    (bought,) = plan.sets
    assert (bought.count, bought.days, bought.buy_by) == (2, (date(2026, 7, 1), date(2026, 8, 1)), date(2026, 6, 1))
    assert (bought.saved, bought.left_over, plan.cost) == (Decimal(50), 0, Decimal(44))
    assert [kind.singles for kind in plan.kinds] == [(), ()]


def test_single_cables_are_bought_where_the_set_does_not_pay(thin):
    make_price(design=two_lengths(thin), price="25")
    plan = planned()
    assert (plan.bought_sets, plan.cost) == ([], Decimal(50))


def test_a_set_may_leave_a_cable_over(thin):
    """One length lies on the shelf twice: of two sets at 9 nothing but the other length is wanted, at 15 each."""
    make_price(design=two_lengths(thin), price="9")
    for _ in range(2):
        make_segment(1.0, cable_type=thin)
    (bought,) = planned().sets
    assert (bought.count, bought.left_over, bought.saved) == (2, 2, Decimal(30))


def test_a_set_is_not_weighed_against_a_cable_of_which_nobody_knows_the_price(thin):
    design = two_lengths(thin)
    thin.prices.filter(length_m=2.0).update(price=None)
    make_price(design=design, price="1")
    (bought,) = planned().sets
    assert (bought.count, bought.unknown) == (0, (("thin", 2.0),))


def test_a_set_of_a_withdrawn_design_is_bought_no_more(thin):
    make_price(design=two_lengths(thin), price="1")
    MatDesign.objects.update(withdrawn_on=ON)
    assert planned().sets == ()


def test_what_is_ordered_in_each_month_adds_up_to_the_whole(thin):
    make_price(design=two_lengths(thin, months=(6, 7, 8, 9)), price="24", lead_time_days=40)
    due(date(2027, 3, 1), 3.0, cable_type=thin)
    plan = planned()
    assert sum(month.sets for month in plan.months) == sum(each.count for each in plan.sets)
    assert sum(month.cables for month in plan.months) == sum(len(kind.singles) for kind in plan.kinds)
    assert plan.cost == sum((each.cost for each in plan.bought_sets), Decimal(0)) == 96
    assert (len(plan.months), plan.months[0].first, plan.months[-1].first) == (13, date(2026, 5, 1), date(2027, 5, 1))


def test_how_many_are_ordered_first_counts_those_of_the_same_day_and_all_that_is_late(thin):
    for day in (date(2026, 5, 1), date(2026, 5, 25), date(2026, 6, 20), date(2026, 9, 1)):
        due(day, cable_type=thin)
    make_price(thin, 1.0, "3", lead_time_days=31)
    assert first_order(only_kind(planned()), ON) == 3


def test_a_plan_takes_as_many_queries_for_many_cables_as_for_few(thin):
    make_price(design=two_lengths(thin), price="22")
    asked = []
    for more in (0, 8):
        for month in range(1, more + 1):
            due(date(2026, 6, month), 0.5 + month / 10, cable_type=make_cable_type())
            make_price(design=make_design(lengths_m=(0.5, 0.6), cable_type=thin), price="3")
        assess_pool(ON)
        with CaptureQueriesContext(connection) as queries:
            purchase_plan(ON)
        asked.append(len(queries))
    assert asked[0] == asked[1]
    assert Mat.objects.count() > 8
