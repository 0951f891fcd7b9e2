"""How to measure: what each method shows, and what a first reading should be for the lengths of this pool."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import make_cable_type, make_design, make_mat, make_reading, make_segment
from page_words import words_in

from fleet.models.segments import ASSUMED_CABLE
from inspections.bench.guide_selectors import first_readings
from inspections.bench.verdicts import Criteria

pytestmark = pytest.mark.django_db
CRITERIA = Criteria(limit_db=3.0, uncertainty_db=0.15, reference_mhz=900)
ADDRESS = reverse("inspections:how-to-measure")


def test_each_length_of_mats_in_use_has_its_first_reading_once(on):
    thin = make_cable_type("thin")
    design = make_design(lengths_m=(1.0, 2.0, 1.0), cable_type=thin)
    make_mat("M-1", design=design)
    make_mat("M-2", design=design)
    make_design(lengths_m=(5.0,), cable_type=thin)
    make_mat("M-3", design=make_design(lengths_m=(7.0,), cable_type=thin), withdrawn_on=on)
    assert [row.length_m for row in first_readings(CRITERIA, on)] == [1.0, 2.0]


def test_a_calculated_one_follows_the_two_values_of_its_type(on):
    """Two-term law by hand: 0.38 dB/m at 400 and 0.62 at 1000 MHz give k1 0.017955, k2 0.0000522; 0.58568 at 900."""
    make_mat("M-1", design=make_design(lengths_m=(2.0,), cable_type=make_cable_type("thin")))
    (row,) = first_readings(CRITERIA, on)
    assert row.expected_db == pytest.approx(2 * 0.58568, abs=2e-4)
    assert row.ones == 0


def test_one_port_shows_the_double_and_may_depart_further(on):
    thin = make_cable_type("thin")
    make_mat("M-1", design=make_design(lengths_m=(1.0,), cable_type=thin))
    for loss_db in (0.6, 0.6, 0.7, 0.8, 0.8):
        make_reading(make_segment(1.0, cable_type=thin), loss_db, taken="at fitting")
    (row,) = first_readings(CRITERIA, on)
    assert (row.expected_db, row.shown_db, row.ones) == (0.7, 1.4, 5)
    assert row.through_most_db == pytest.approx(0.7 + 0.3 + 2 * 0.15)
    assert row.shown_most_db == pytest.approx(2 * (0.7 + 0.3 + 2 * 0.2))


def test_a_cable_that_nobody_named_has_no_calculated_loss(visitor_client, on):
    make_mat("M-1", design=make_design(lengths_m=(1.0,), cable_type=make_cable_type(ASSUMED_CABLE)))
    assert first_readings(CRITERIA, on)[0].expected_db is None
    assert "nobody said which cable it is" in words_in(visitor_client.get(ADDRESS).content.decode())


def test_each_method_is_drawn_with_a_title_and_a_description(visitor_client):
    page = visitor_client.get(ADDRESS).content.decode()
    drawings = re.findall(r'<svg role="img" aria-labelledby="(\S+) (\S+)".*?</svg>', page, re.DOTALL)
    titles = [re.search(rf'<title id="{title}">([^:<]+)', page).group(1) for title, _ in drawings]
    assert titles == ["Through", "Far end open", "Far end shorted", "On its element", "Go/no-go tester"]
    assert all(f'<desc id="{desc}">' in page for _, desc in drawings)


def test_it_says_what_can_break_or_hurt(visitor_client):
    page = words_in(visitor_client.get(ADDRESS).content.decode())
    for said in (
        "An analyser on a cable that has a reader on it",
        "Wet gear near mains",
        "Never spin the cable",
        "0.34 to 0.56 N·m for brass, 0.79 to 1.13 N·m for stainless steel",
        "local codes",
    ):
        assert said in page


def test_the_bench_leads_to_it(bench_client):
    make_mat("M-1", fitted=True)
    for page in ("/bench/", "/bench/M-1/"):
        assert f'href="{ADDRESS}"' in bench_client.get(page).content.decode()


def test_more_lengths_ask_no_more_of_the_database(visitor_client):
    def asked():
        with CaptureQueriesContext(connection) as queries:
            visitor_client.get(ADDRESS)
        return len(queries)

    make_mat("M-1", design=make_design(lengths_m=(1.0,)))
    few = asked()
    make_mat("M-2", design=make_design(lengths_m=tuple(length / 10 for length in range(5, 17))))
    assert asked() == few
