"""What a new cable is held against beside the limit: fresh ones of its length and type."""

from datetime import timedelta

import pytest
from factories import fit, make_cable_type, make_mat, make_reading, make_segment

from fleet.models.segments import ASSUMED_CABLE
from inspections.bench.fresh_selectors import FreshLoss, fresh_losses, judged_as_new
from inspections.bench.verdicts import Criteria
from inspections.numeric.decibels import typical_loss_db
from inspections.validators import TypedLoss

pytestmark = pytest.mark.django_db
CRITERIA = Criteria(limit_db=3.0, uncertainty_db=0.15, reference_mhz=900)


@pytest.fixture
def thin():
    return make_cable_type("thin")


def fresh(thin, losses, length_m=1.0):
    for loss_db in losses:
        make_reading(make_segment(length_m, cable_type=thin), loss_db, taken="at fitting")


def expected(kind, on):
    return fresh_losses([kind], CRITERIA, on)[kind]


def stops(loss_db, found):
    return judged_as_new(CRITERIA.judge(TypedLoss(loss_db)), found).stops


def test_five_fresh_ones_of_its_length_and_type_say_by_their_median(thin, on):
    fresh(thin, (0.5, 0.6, 0.7, 0.8, 9.0))
    fresh(thin, (4.0, 4.0), length_m=1.5)
    found = expected((thin, 1.0), on)
    assert (found.expected_db, found.ones) == (0.7, 5)


def test_with_fewer_its_loss_is_calculated(thin, on):
    fresh(thin, (0.5, 0.6, 0.7, 0.8))
    found = expected((thin, 1.0), on)
    assert found.ones == 0
    assert found.expected_db == pytest.approx(float(typical_loss_db(1.0, 0.38, 0.62, 900)))


def test_an_as_new_loss_counts_where_no_reading_was_taken_at_fitting(thin, on):
    fresh(thin, (0.5, 0.6, 0.7))
    for loss_db in (0.8, 0.9):
        make_segment(1.0, cable_type=thin, as_new_loss_db=loss_db)
    assert expected((thin, 1.0), on).expected_db == 0.7


def test_what_is_void_doubtful_without_signal_or_not_read_at_fitting_says_nothing(thin, on):
    fresh(thin, (0.5, 0.6, 0.7, 0.8))
    for values in (
        {"voided_on": on},
        {"doubt_reason": "loose"},
        {"loss_db": None},
        {"taken": "as found"},
        {"frequency_mhz": 400},
    ):
        make_reading(make_segment(1.0, cable_type=thin), **{"taken": "at fitting", "loss_db": 0.6, **values})
    assert expected((thin, 1.0), on).ones == 0


def test_a_short_cable_of_two_decibels_is_within_the_limit_and_stops_all_the_same(thin, on):
    found = expected((thin, 0.4), on)
    judged = judged_as_new(CRITERIA.judge(TypedLoss(2.0)), found)
    assert (judged.judgement.verdict, judged.is_over, judged.unlike_fresh, judged.stops) == (
        "within",
        False,
        True,
        True,
    )


def test_it_stops_beyond_three_tenths_and_two_uncertainties(thin, on):
    fresh(thin, [0.7] * 5)
    found = expected((thin, 1.0), on)
    assert [stops(loss_db, found) for loss_db in (0.7, 1.29, 1.31)] == [False, False, True]


def test_so_does_one_over_the_limit_or_without_signal_whatever_fresh_ones_read(thin, on):
    fresh(thin, [4.0] * 5)
    found = expected((thin, 1.0), on)
    assert stops(3.9, found)
    assert judged_as_new(CRITERIA.judge(TypedLoss(None, no_signal=True)), found).stops


def test_it_takes_as_many_queries_for_one_kind_as_for_many(thin, on, django_assert_num_queries):
    fresh(thin, [0.7] * 5)
    with django_assert_num_queries(4):
        fresh_losses([(thin, 1.0)], CRITERIA, on)
    with django_assert_num_queries(4):
        fresh_losses([(thin, length / 10) for length in range(1, 13)], CRITERIA, on)


def test_a_used_cable_that_is_fitted_again_is_no_fresh_one(thin, on):
    fresh(thin, (0.5, 0.6, 0.7, 0.8))
    used = make_segment(1.0, cable_type=thin)
    fit(used, make_mat(), 1, on - timedelta(days=300), removed_on=on - timedelta(days=200))
    make_reading(used, 0.9, on, taken="at fitting")
    make_reading(make_segment(1.0, cable_type=thin, events_before=40), 0.9, taken="at fitting")
    assert expected((thin, 1.0), on).ones == 0


def test_repeats_of_one_cable_are_one_fresh_one(thin, on):
    fresh(thin, (0.5, 0.6, 0.7))
    twice = make_segment(1.0, cable_type=thin)
    for repeat in (1, 2):
        make_reading(twice, 0.8, taken="at fitting", repeat=repeat)
    assert expected((thin, 1.0), on).ones == 0
    fresh(thin, [0.9])
    assert expected((thin, 1.0), on) == FreshLoss(0.7, 5)


def test_of_a_type_that_nobody_named_it_is_not_known_and_the_limit_alone_decides(on):
    assumed = make_cable_type(ASSUMED_CABLE)
    found = expected((assumed, 0.4), on)
    assert found.expected_db is None
    assert [stops(loss_db, found) for loss_db in (2.0, 3.5)] == [False, True]
    fresh(assumed, [0.4] * 5, length_m=0.4)
    assert stops(2.0, expected((assumed, 0.4), on))
