"""Lists of readings: newest first, each judged once and for all pages alike."""

from datetime import date

import pytest
from factories import fit, make_design, make_instrument, make_mat, make_reading, make_segment

from inspections.bench.reading_selectors import readings_of_mat, readings_of_segment
from inspections.models import PolicyValue

pytestmark = pytest.mark.django_db


def test_readings_of_a_segment_are_newest_first_and_judged(on):
    segment = make_segment()
    make_reading(segment, 1.31, date(2025, 5, 5))
    make_reading(segment, 3.4, date(2026, 5, 5))
    make_reading(segment, 2.9, date(2026, 5, 5), repeat=2)
    make_reading(segment, None, date(2026, 6, 5))
    make_reading(segment, 1.0, date(2026, 10, 1))
    lines = readings_of_segment(segment, on)
    assert [(line.reading.loss_db, line.judgement.verdict) for line in lines] == [
        (None, "over"),
        (3.4, "over"),
        (2.9, "undecided"),
        (1.31, "within"),
    ]


def test_the_instrument_decides_how_near_the_limit_is_too_near(on):
    segment, sharp = make_segment(), make_instrument(standard_uncertainty_db=0.05)
    make_reading(segment, 2.9, instrument=sharp)
    make_reading(segment, 2.9, repeat=2)
    assert [line.judgement.verdict for line in readings_of_segment(segment, on)] == ["within", "undecided"]


def test_a_reading_far_from_the_reference_frequency_has_no_verdict(on):
    segment = make_segment()
    make_reading(segment, 2.0, frequency_mhz=433)
    (line,) = readings_of_segment(segment, on)
    assert (line.judgement.verdict, line.judgement.reference_loss_db, line.reading.loss_db) == ("", None, 2.0)


def test_readings_are_judged_by_the_limit_of_the_mat_design(on):
    design = make_design()
    PolicyValue.objects.create(setting="loss_limit_db", design=design, value=1.0)
    mat, segment = make_mat(design=design), make_segment()
    fit(segment, mat)
    make_reading(segment, 1.31)
    assert [line.judgement.verdict for line in readings_of_segment(segment, on)] == ["over"]
    assert [line.judgement.verdict for line in readings_of_mat(mat, on)] == ["over"]


def test_a_reading_is_void_from_that_day_on(on):
    segment = make_segment()
    make_reading(segment, 1.3, date(2026, 5, 5), voided_on=date(2026, 9, 1), void_reason="wrong cable")
    assert [line.is_void for line in readings_of_segment(segment, date(2026, 8, 31))] == [False]
    assert [line.is_void for line in readings_of_segment(segment, date(2026, 9, 1))] == [True]


def test_a_mat_lists_what_was_measured_while_the_cable_was_in_it(on):
    mat, old, new = make_mat(), make_segment(), make_segment()
    fit(old, mat, 1, date(2025, 1, 1), removed_on=date(2026, 1, 1))
    fit(new, mat, 1, date(2026, 1, 1))
    make_reading(old, 1.1, date(2025, 6, 1))
    make_reading(old, 1.2, date(2026, 1, 1))
    make_reading(new, 1.3, date(2026, 1, 1))
    make_reading(new, 1.4, date(2025, 6, 1))
    assert [line.reading.loss_db for line in readings_of_mat(mat, on)] == [1.3, 1.1]


@pytest.mark.parametrize("readings", [1, 3, 50])
def test_a_list_of_readings_takes_five_queries(readings, on, django_assert_num_queries):
    mat = make_mat(fitted=True)
    segment = mat.fittings.first().segment
    for repeat in range(1, readings + 1):
        make_reading(segment, 1.31, repeat=repeat, instrument=make_instrument())
    with django_assert_num_queries(5):
        assert len(readings_of_mat(mat, on)) == readings
    with django_assert_num_queries(5):
        assert len(readings_of_segment(segment, on)) == readings
