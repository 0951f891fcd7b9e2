"""Where the bench looks: mats of depots without one are left out of its list, and found by their number."""

import pytest
from factories import make_depot, make_mat
from page_words import words_in

from inspections.bench.selectors import mats_at_bench
from inspections.models import PolicyValue


@pytest.fixture
def depots(db):
    quay, hangar = make_depot("Quay"), make_depot("Hangar")
    make_mat("M-001", depot=quay), make_mat("M-002", depot=hangar), make_mat("M-003")
    return quay, hangar


def no_bench(depot=None):
    PolicyValue.objects.create(setting="has_bench", value=0, depot=depot)


def listed(on):
    return [mat.number for mat in mats_at_bench(on)]


def test_all_are_listed_where_every_place_has_a_bench(depots, today):
    assert listed(today) == ["M-001", "M-002", "M-003"]


def test_mats_of_a_depot_without_a_bench_are_left_out_and_counted(bench_client, depots, today):
    no_bench(depots[1])
    assert listed(today) == ["M-001", "M-003"]
    assert "1 mat of depots without a bench is not listed." in words_in(bench_client.get("/bench/").content.decode())
    assert bench_client.get("/bench/", {"q": "M-002"}).url == "/bench/M-002/"


def test_mats_without_a_depot_follow_the_pool(depots, today):
    no_bench()
    PolicyValue.objects.create(setting="has_bench", value=1, depot=depots[0])
    assert listed(today) == ["M-001"]


def test_where_no_place_has_a_bench_all_are_listed(bench_client, depots, today):
    no_bench()
    assert listed(today) == ["M-001", "M-002", "M-003"]
    assert "not listed" not in words_in(bench_client.get("/bench/").content.decode())
