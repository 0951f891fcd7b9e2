"""What a change of the policy would do is shown before it is saved, and comes out so."""

from datetime import date, timedelta

import pytest
from factories import (
    make_depot,
    make_event,
    make_mat,
    make_reading,
    make_usage_event,
    set_policy_value,
)

from fleet.models import Mat
from inspections.assessment.services import assess_pool
from inspections.models import Assessment, PolicyValue, PoolState
from inspections.policy.preview_services import preview
from inspections.policy.services import PolicyChange, change_policy

pytestmark = pytest.mark.django_db
ON, YEAR = date(2026, 9, 30), timedelta(days=365)


@pytest.fixture(scope="module")
def shared_pool(shared_rows):
    with shared_rows(make_pool) as mat:
        yield mat


@pytest.fixture
def pool(shared_pool):
    return Mat.objects.get(pk=shared_pool.pk)


def make_pool():
    """Mats due by age or before an event, and not due; the cables of the first have lines of their own."""
    old = make_mat(fitted=True, fitted_on=ON - 4 * YEAR, depot=make_depot("Quay"))
    soon = make_mat(fitted=True, fitted_on=ON - 3 * YEAR + timedelta(days=20))
    make_mat(fitted=True, fitted_on=ON - YEAR)
    make_usage_event(soon, make_event(ON + timedelta(days=60)), state="planned")
    for number, fitting in enumerate(old.fittings.order_by("position")):
        for years, more_db in ((3, 0), (2, 0.11), (1, 0.19), (0, 0.3)):
            make_reading(fitting.segment, 0.4 + 0.8 * number + more_db, ON - years * YEAR - timedelta(days=5))
    assess_pool(ON)
    return old


def statuses():
    return sorted(Assessment.objects.values_list("segment", "urgency"))


def counted(shown, which):
    return {count.status.order: getattr(count, which) for count in shown.counts if getattr(count, which)}


def counts_now():
    urgencies = [urgency for _, urgency in statuses()]
    return {urgency: urgencies.count(urgency) for urgency in urgencies}


CHANGES = {
    "a longer age limit": {"age_limit_years": 6, "look_ahead_days": 1500},
    "no age limit and no bench": {"age_limit_years": 0, "has_bench": 0},
    "own readings and a lower loss limit": {"own_readings_decide": 1, "loss_limit_db": 1.2, "accepted_risk": 0.2},
    "what goes into the trend": {
        "age_limit_years": 0,
        "reference_mhz": 960,
        "reading_uncertainty_db": 1,
        "wear_by_events": 1,
    },
}


@pytest.mark.parametrize("values", CHANGES.values(), ids=CHANGES)
def test_the_counts_then_are_those_after_saving(values, pool, keeper):
    changes = [PolicyChange(name, value) for name, value in values.items()]
    before = statuses()
    shown = preview(changes, ON)
    assert (statuses(), counted(shown, "now")) == (before, counts_now())
    change_policy(changes, by=keeper, on=ON)
    assert counted(shown, "then") == counts_now()
    assert statuses() != before


def test_a_design_a_position_and_a_depot_are_previewed_alike(pool, keeper):
    changes = [
        PolicyChange("age_limit_years", 6.0, design=pool.design),
        PolicyChange("age_limit_years", 0.0, design=pool.design, position=4),
        PolicyChange("has_bench", 0.0, depot=pool.depot),
    ]
    shown = preview(changes, ON)
    change_policy(changes, by=keeper, on=ON)
    assert counted(shown, "then") == counts_now()
    assert shown.points[1] == f"Age limit of position 4 of {pool.design}: 3 years → no limit"


def test_what_is_cleared_is_previewed_as_the_wider_value(pool, keeper):
    set_policy_value("age_limit_years", 6, by=keeper, on=ON)
    shown = preview([PolicyChange("age_limit_years", None)], ON)
    assert shown.points == ["Age limit of the pool: 6 years → 3 years, the default"]
    set_policy_value("age_limit_years", None, by=keeper, on=ON)
    assert counted(shown, "then") == counts_now()


def test_looking_stores_nothing(pool):
    changes = PoolState.objects.get().changes
    preview([PolicyChange("wear_by_events", 1.0)], ON)
    assert (PoolState.objects.get().changes, PolicyValue.objects.count()) == (changes, 0)
