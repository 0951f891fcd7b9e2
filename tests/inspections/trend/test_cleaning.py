"""What cleaning took away at the bench, told beside what the trend reckons with."""

from datetime import timedelta

import numpy as np
import pytest
from factories import make_instrument, make_mat, make_reading, make_segment
from page_words import words_in

from inspections.assessment.services import assess_pool
from inspections.trend.cleaning_selectors import cleaning_difference

pytestmark = pytest.mark.django_db


def make_pair(day, found_db, cleaned_db, segment=None, **values):
    segment = segment or make_segment()
    make_reading(segment, found_db, day, **values)
    make_reading(segment, cleaned_db, day, repeat=2, taken="after cleaning", **values)
    return segment


def test_a_pair_is_one_cable_day_instrument_and_method(today):
    bridge, other = make_instrument(), make_instrument()
    make_pair(today, 1.5, 1.4, instrument=bridge)
    make_pair(today, 2.0, 1.7)
    apart = make_segment()
    make_reading(apart, 2.0, today, instrument=bridge)
    make_reading(apart, 1.0, today, repeat=2, taken="after cleaning", instrument=other)
    make_reading(apart, 2.0, today - timedelta(1), instrument=other)
    make_reading(apart, 2.0, today, repeat=3, method="far end open", instrument=other)
    found = cleaning_difference(today)
    assert (found.pairs, found.mean_db) == (2, pytest.approx(0.2))


def test_void_and_doubtful_readings_are_in_no_pair(today):
    make_pair(today, 1.5, 1.4, voided_on=today)
    make_pair(today, 1.5, 1.4, doubt_reason="loose")
    make_pair(today, None, 1.4)
    assert cleaning_difference(today).pairs == 0


def test_a_return_loss_counts_by_half_and_of_repeats_the_middle_one(today):
    pocket = make_instrument(kind="one-port")
    segment = make_pair(today, 3.4, 3.0, instrument=pocket, method="far end open")
    make_reading(segment, 3.6, today, repeat=3, instrument=pocket, method="far end open")
    assert cleaning_difference(today).mean_db == pytest.approx(0.25)


def test_it_is_one_query_however_many_pairs(today, django_assert_num_queries):
    for _ in range(25):
        make_pair(today, 1.5, 1.4)
    with django_assert_num_queries(1):
        assert cleaning_difference(today).pairs == 25


@pytest.mark.parametrize("cleaned", [19, 20])
def test_the_pool_page_tells_it_from_twenty_pairs_on(cleaned, keeper_client, today):
    rng, fitted_on = np.random.default_rng(3), today - timedelta(800)
    segments = [f.segment for _ in range(5) for f in make_mat(fitted=True, fitted_on=fitted_on).fittings.all()]
    for number, segment in enumerate(segments):
        for month in (2, 9, 16, 23):
            loss_db = 0.3 + 0.5 * segment.length_m + 0.1 * month / 12 + 0.02 * rng.standard_normal()
            make_reading(segment, loss_db, fitted_on + timedelta(30 * month))
            if month == 23 and number < cleaned:
                day = fitted_on + timedelta(30 * month)
                make_reading(segment, loss_db - 0.11, day, repeat=2, taken="after cleaning")
    assess_pool(today)
    page = words_in(keeper_client.get("/pool/").content.decode())
    told = f"From {cleaned} pairs cleaning took away +0.11 ± 0.01 dB; the trend reckons with"
    counted = f"{cleaned} pairs of readings as found and after cleaning: from 20 on, what cleaning takes away is told."
    assert (told in page.replace("&nbsp;", " "), counted in page) == ((True, False) if cleaned >= 20 else (False, True))
