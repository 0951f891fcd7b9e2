"""What rules cost out of a pool's records: what is asked for, what is taken from where, and what comes of it."""

from datetime import timedelta

import numpy as np
import pytest
from costed_pools import EVENTS_A_YEAR, ON, SAID, go_out, make_costed_pool, say
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from factories import make_design, make_mat, make_person, make_price, set_policy_value

from fleet.models import CableType, Price
from inspections.models import Assessment, PolicyValue
from inspections.numeric.lives.modelled import Kinds, fresh_lives
from inspections.numeric.words import Clock
from inspections.pool_life.cable_services import read_cables
from inspections.rule_cost.known_selectors import changed_together
from inspections.rule_cost.place_selectors import cost_places
from inspections.rule_cost.services import rule_costs

pytestmark = [pytest.mark.django_db, pytest.mark.alike]


def costs_on(on=ON):
    return rule_costs(on, on)


@pytest.fixture(scope="module")
def page(django_db_setup, django_db_blocker):
    """RuleCosts of a pool of which everything is known; it is no more once they are worked out."""
    with django_db_blocker.unblock(), transaction.atomic():
        make_costed_pool(make_person("who said it"))
        found = costs_on()
        transaction.set_rollback(True)
    return found


def test_an_empty_pool_costs_nothing_and_asks_for_all():
    found = costs_on()
    assert (found.rows, found.places, [setting.name for setting in found.work.missing]) == ((), (), list(SAID))


def test_what_nobody_has_said_is_asked_for_and_never_taken_for_granted(keeper):
    make_costed_pool(keeper)
    assert len(costs_on().rows) == 12
    for name in ("hour_price", "event_cost_high"):
        say(keeper, **{name: None})
    found = costs_on()
    assert [setting.name for setting in found.work.missing] == ["hour_price", "event_cost_high"]
    assert found.rows == ()


def test_lengths_without_a_price_and_mats_without_an_event_are_named_and_the_others_are_answered(keeper):
    make_costed_pool(keeper)
    line = Price.objects.first()
    line.delete()
    make_price(line.cable_type, 0.6, "9.00")
    idle = make_mat(design=make_design("idle"), fitted=True)
    make_price(idle.design.positions.first().cable_type)
    found = costs_on()
    assert sorted(place.length_m for place in found.unpriced) == [1.1, 1.6, 2.1]
    assert {place.design for place in found.unused} == {idle.design}
    assert len(found.rows) == 9
    assert {row.place.price for row in found.rows} == {9.0, 15.0}


def price_all_new():
    for cable_type in CableType.objects.filter(prices=None):
        make_price(cable_type)


def test_the_cheapest_age_is_that_of_the_costs_added_up_day_by_day(page):
    """Computed apart: shares over by the trend, what is over and not found day by day, and the least of all days."""
    days = np.arange(1, 40 * 365 + 1)
    for row in page.rows[:2]:
        kinds = Kinds.of(row.place.length_m, 3.0)
        ages = np.concatenate([np.arange(0, 8, 0.02), np.arange(8, 40.01, 0.25)])
        share = fresh_lives(page.limits.model.points, kinds).share_over(ages)[:, 0]
        over_by = np.interp(days / 365, ages, share)
        went_over = np.diff(over_by, prepend=0)
        not_found = np.zeros(len(days))
        stay = np.exp(-page.looks.a_year / 365)
        for day in range(1, len(days)):
            not_found[day] = not_found[day - 1] * stay + went_over[day]
        in_use = 1 - over_by + not_found
        lived = np.cumsum(in_use) / 365
        planned, found = 15 + 20 / 6 + 10, 15 + 20 / 6 + 10
        for end, event_cost in enumerate((5, 50)):
            spent = planned * in_use + found * (1 - in_use) + event_cost * EVENTS_A_YEAR * np.cumsum(not_found) / 365
            cost = spent / lived
            assert row.best.age[end] == pytest.approx(days[cost.argmin()] / 365, rel=0.02)
            assert row.best.cost[end] == pytest.approx(cost.min(), rel=0.01)
            assert row.today_cost[end] == pytest.approx(cost[3 * 365 - 1], rel=0.01)
            assert row.never_cost[end] == pytest.approx(cost[-1], rel=0.01)


def test_the_dearer_an_event_the_earlier_a_change_is_cheapest(page):
    for row in page.rows:
        assert row.best.age[1] < row.best.age[0]
        assert (row.age_low <= row.best.age).all()
        assert (row.best.age <= row.age_high).all()
        assert (row.best.low < row.best.age).all()
        assert (row.best.age < row.best.high).all()
        assert (row.best.cost <= row.today_cost).all()
        assert (row.best.cost <= row.never_cost).all()
        assert row.over_before[1] < row.over_before[0]


def test_long_cables_are_changed_earlier_and_cost_more(page):
    rows = sorted(page.rows, key=lambda row: row.place.length_m)
    assert rows[0].best.age.min() > rows[-1].best.age.max()
    assert (rows[0].best.cost < rows[-1].best.cost).all()


def test_what_the_limits_cost_is_the_sum_over_all_cables(page):
    assert page.cables == 12
    assert page.today == pytest.approx(sum(row.today_cost for row in page.rows))
    assert page.more == pytest.approx(page.today - sum(row.best.cost for row in page.rows))
    low, high = page.more_interval
    assert low <= page.more.min()
    assert page.more.max() <= high
    cables_today = sum(row.today_changes for row in page.rows)
    assert page.changes[0] == pytest.approx([cables_today] * 2)
    # a third of a cable a year, or a little more where some are found over before
    assert 1 / 3 <= cables_today / 12 < 0.6


def test_of_age_and_events_the_limit_that_is_reached_first_is_todays(keeper):
    mat = make_mat(fitted=True)
    go_out([mat])
    say(keeper, event_limit=24)
    place = {"design": mat.design, "by": keeper, "on": ON}
    set_policy_value("age_limit_years", 1.5, position=2, **place)
    set_policy_value("age_limit_years", 0, position=1, **place)
    set_policy_value("event_limit", 0, position=1, **place)

    def today(wear_clock):
        places = cost_places(read_cables(ON).state, ON, wear_clock)
        return {place.positions: place.today for place in places}

    assert today(Clock.YEARS) == {(1,): np.inf, (2,): 1.5, (3,): 2.0, (4,): 2.0}
    assert today(Clock.EVENTS) == {(1,): np.inf, (2,): 18, (3,): 24, (4,): 24}


def test_positions_that_cost_alike_are_one(keeper):
    mat = make_mat(design=make_design(lengths_m=(0.8, 1.2, 0.8)), fitted=True)
    places = cost_places(read_cables(ON).state, ON, Clock.YEARS)
    assert [(place.length_m, place.positions, place.cables) for place in places] == [(1.2, (2,), 1), (0.8, (1, 3), 2)]
    set_policy_value("age_limit_years", 2, design=mat.design, position=3, by=keeper, on=ON)
    assert len(cost_places(read_cables(ON).state, ON, Clock.YEARS)) == 3


def test_by_events_ages_are_counts_and_costs_stay_those_of_a_year(keeper):
    make_costed_pool(keeper, wear_by_events=1)
    page = costs_on()
    assert page.clock == Clock.EVENTS
    for row in page.rows:
        # three years of the events of the last one
        assert row.place.today == 3 * EVENTS_A_YEAR
        assert 1 / 3 - 1e-6 <= row.changes[0, 0] < 0.6


def test_cables_that_were_changed_at_once_share_the_work_of_opening_their_mat(keeper):
    mats = [make_mat(fitted=True) for _ in range(2)]

    def together():
        return changed_together(read_cables(ON).state.fittings, np.datetime64(ON))

    assert (together().cables, together().mean) == (0, 1.0)
    mats[0].fittings.filter(position__in=(1, 2, 3)).update(removed_on=ON)
    mats[1].fittings.filter(position=1).update(removed_on=ON)
    mats[1].fittings.filter(position=2).update(removed_on=ON + timedelta(days=1))
    assert (together().cables, together().mean) == (4, 2.0)


def test_how_often_cables_are_read_is_told_by_the_last_two_years(page):
    # all cables are older, and of five readings each a few near the limit decide nothing
    assert page.looks.cable_years == pytest.approx(12 * 730 / 365.25)
    assert 48 <= page.looks.readings < 60
    assert page.looks.a_year == pytest.approx(page.looks.readings / page.looks.cable_years)


def test_the_two_ends_of_what_an_event_costs_are_not_crossed(keeper):
    say(keeper, event_cost_low=10)
    with pytest.raises(ValidationError, match="at least 10 and at most 5"):
        say(keeper, event_cost_high=5)
    assert not PolicyValue.objects.filter(setting="event_cost_high").exists()
    say(keeper, event_cost_high=10)
    with pytest.raises(ValidationError, match="at least 11 and at most 10"):
        say(keeper, event_cost_low=11)


def test_costs_ask_for_no_assessment(keeper):
    make_mat(fitted=True)
    say(keeper, hour_price=25)
    assert not Assessment.objects.exists()
    say(keeper, accepted_risk=0.1)
    assert Assessment.objects.exists()


def queries():
    with CaptureQueriesContext(
        connection,
    ) as asked:
        costs_on()
    return len(asked)


def test_queries_do_not_grow_with_designs_and_mats():
    """Without a reading: what is worked out after the records are read asks for nothing."""

    def one_more():
        go_out([make_mat(fitted=True)], 2)
        price_all_new()
        costs_on()
        return queries()

    few = one_more()
    assert [one_more() for _ in range(2)] == [few] * 2
