"""Readings are entered where the policy says that there is no bench: the setting is offered."""

import re
from datetime import timedelta

import pytest
from django.utils.html import strip_tags
from factories import make_depot, make_mat, make_reading, set_policy_value

from inspections.assessment.services import assess_pool
from inspections.bench.no_bench_selectors import benches_not_said

pytestmark = pytest.mark.django_db


def measured_mat(today, cables=4, days_ago=9, **values):
    mat = make_mat(fitted=True, fitted_on=today - timedelta(days=500), **values)
    for fitting in mat.fittings.all()[:cables]:
        make_reading(fitting.segment, 0.5, today - timedelta(days=days_ago))
    return mat


def offers(today):
    assess_pool(today)
    return [(offer.depot and offer.depot.name, offer.measured, offer.cables) for offer in benches_not_said(today)]


def test_the_pool_or_the_depot_that_says_so_is_named(keeper, today):
    quay, mill, yard = make_depot("Quay"), make_depot("Mill"), make_depot("Yard")
    measured_mat(today, depot=quay)
    measured_mat(today, cables=2, depot=mill)
    measured_mat(today, depot=yard)
    measured_mat(today, cables=1)
    assert offers(today) == []
    set_policy_value("has_bench", 0, depot=quay, by=keeper, on=today)
    assert offers(today) == [("Quay", 4, 4)]
    set_policy_value("has_bench", 1, depot=yard, by=keeper, on=today)
    set_policy_value("has_bench", 0, by=keeper, on=today)
    assert sorted(offers(today), key=str) == [("Quay", 4, 4), (None, 3, 8)]


@pytest.mark.parametrize(("cables", "days_ago"), [(0, 9), (4, 400)])
def test_nothing_is_offered_where_nothing_was_measured_lately(cables, days_ago, keeper, today):
    measured_mat(today, cables, days_ago)
    set_policy_value("has_bench", 0, by=keeper, on=today)
    assert offers(today) == []


def test_a_reading_or_two_from_elsewhere_are_no_bench(keeper, today):
    measured_mat(today, cables=1)
    measured_mat(today, cables=0)
    set_policy_value("has_bench", 0, by=keeper, on=today)
    assert offers(today) == []


def test_a_place_is_asked_at_its_first_reading(keeper, today):
    mat = measured_mat(today, cables=1, days_ago=0)
    for _ in range(2):
        measured_mat(today, cables=0)
    set_policy_value("has_bench", 0, by=keeper, on=today)
    assert offers(today) == [(None, 1, 12)]
    make_reading(mat.fittings.all()[1].segment, 0.5, today - timedelta(days=200))
    assert offers(today) == []


@pytest.mark.parametrize("place", ["/policy/", "/bench/"])
def test_the_keeper_is_led_to_the_setting_with_what_would_change(place, keeper, keeper_client, today):
    depot = make_depot("Quay")
    measured_mat(today, cables=2, depot=depot)
    set_policy_value("has_bench", 0, depot=depot, by=keeper, on=today)
    page = keeper_client.get(place).content.decode()
    words = " ".join(strip_tags(page).split())
    assert "2 of 4 cables of Quay were measured in the last year, but the policy says that Quay has no bench." in words
    (link,) = re.findall(r'href="(/policy/\?[^"]+)"', page)
    shown = " ".join(strip_tags(keeper_client.get(link).content.decode()).split())
    assert "Has a bench of Quay: no → yes" in shown
    assert re.search(r"measure 0 2 ", shown)
