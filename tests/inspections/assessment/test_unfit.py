"""Which mats should not go by a day, and why: one rule for Today, an event's page and wherever mats are ticked."""

from datetime import date, timedelta

import pytest
from factories import fit, make_fault, make_many_cables, make_plain_design, make_plain_mat, make_plain_segment

from fleet.models import Mat
from fleet.selectors.unfit import unfit_by, with_unfit
from inspections.assessment.services import assess_pool
from inspections.models import Assessment
from inspections.numeric.words import MeasureReason, Status, TrendFrom

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
# three years of age is the limit
AGED = ON - timedelta(days=2000)


def why(mat, day=ON):
    assess_pool(ON)
    return with_unfit([mat], day, on=ON)[0].unfit


def test_a_mat_with_sound_cables_may_go():
    assert why(make_plain_mat(fitted=True, fitted_on=ON)) == ""


def test_cables_due_are_counted():
    assert why(make_plain_mat(make_plain_design(8), fitted=True, fitted_on=AGED)) == "8 cables due"


def test_only_what_falls_due_by_that_day_counts():
    mat = make_plain_mat(make_plain_design(1), fitted=True, fitted_on=date(2024, 1, 10))
    assert why(mat, date(2027, 1, 9)) == ""
    assert why(mat, date(2027, 1, 10)) == "1 cable due"


def test_a_cable_that_only_similar_ones_accuse_is_measured_and_not_changed():
    mat = make_plain_mat(make_plain_design(1), fitted=True, fitted_on=ON)
    assess_pool(ON)
    accused = {"urgency": Status.MEASURE.order, "measure_reason": MeasureReason.SIMILAR_DUE}
    Assessment.objects.update(due_on=ON, trend_due_on=ON, trend_from=TrendFrom.SIMILAR, **accused)
    assert unfit_by([mat], ON, on=ON) == {}
    by_age = Assessment.objects.get().age_due_on
    assert list(unfit_by([mat], by_age, on=ON)) == [mat.pk]


def test_a_broken_cable_is_named_apart_from_those_that_are_due():
    mat = make_plain_mat(make_plain_design(3), fitted=True, fitted_on=AGED)
    make_fault(mat, "cable", 2, reported_on=ON)
    assert why(mat) == "cable 2 damaged, 2 cables due"


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("wet", "wet"),
        ("whole mat", "damaged"),
        ("not known", "has a fault"),
        ("cover or fold", "cover or fold damaged"),
        ("one of the cables", "one of the cables damaged"),
    ],
)
def test_a_fault_that_holds_a_mat_back_is_named(place, words):
    mat = make_plain_mat(fitted=True, fitted_on=ON)
    make_fault(mat, place, None, reported_on=ON)
    assert why(mat) == words


def test_an_ended_fault_holds_nothing_back():
    mat = make_plain_mat(fitted=True, fitted_on=ON)
    make_fault(mat, "wet", None, reported_on=date(2026, 9, 1), ended_on=ON, end_reason="dried")
    assert why(mat) == ""


def test_empty_positions_are_named_and_many_counted():
    mat = make_plain_mat(make_plain_design(3))
    fit(make_plain_segment(), mat, 2, fitted_on=ON)
    assert why(mat) == "empty positions 1 and 3"
    assert why(make_plain_mat(make_plain_design(1))) == "empty position 1"
    assert why(make_plain_mat(make_plain_design(4))) == "4 empty positions"


def test_four_hundred_mats_take_as_many_queries_as_one(django_assert_num_queries):
    make_many_cables(400, 2)
    make_fault(Mat.objects.first(), "wet", None, reported_on=ON)
    assess_pool(ON)
    mats = list(Mat.objects.all())
    far = date(2040, 1, 1)
    for some in (mats[:1], mats):
        with django_assert_num_queries(4):
            unfit = unfit_by(some, far, on=ON)
        assert len(unfit) == len(some)
