"""Several positions of one mat changed in one act: all or none, and each new fitting knows which one it ended."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from factories import fit, make_fault, make_plain_mat, make_plain_segment, make_segment

from fleet.models import Fitting
from fleet.services.confirmation import WantsConfirmation
from fleet.services.fittings import Fit, TakenOut, fit_segment, fit_segments
from inspections.models import Assessment

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat():
    return make_plain_mat(fitted=True)


def held(mat, position):
    return mat.fittings.select_related("segment").get(position=position, removed_on=None)


def out(mat, position, goes="thrown away"):
    return TakenOut(held(mat, position), "worn", goes)


def change(mat, *fits, keeper, today, **values):
    return fit_segments(mat, fits, by=keeper, on=today, **{"fitted_on": today, **values})


def test_each_new_fitting_knows_the_one_it_ended_and_keeps_torque_end_test_and_remark(mat, keeper, today):
    old = [held(mat, position) for position in (1, 2)]
    kept = {"torque_nm": 0.9, "end_test": "read", "remark": "clamp replaced"}
    new = [make_plain_segment(), make_plain_segment()]
    change(mat, Fit(1, new[0], out(mat, 1), **kept), Fit(2, new[1], out(mat, 2)), keeper=keeper, today=today)
    first, second = held(mat, 1), held(mat, 2)
    assert [first.ended, second.ended] == old
    assert (first.torque_nm, first.end_test, first.remark) == (0.9, "read", "clamp replaced")
    assert (second.torque_nm, second.end_test, second.remark) == (None, "", "")
    assert {fitting.segment.withdrawn_on for fitting in mat.fittings.filter(removed_on=today)} == {today}


def test_so_does_one_that_is_fitted_alone_and_one_in_an_empty_position_ended_none(mat, keeper, today):
    old = held(mat, 1)
    given = {"by": keeper, "on": today, "fitted_on": today}
    done = fit_segment(make_plain_segment(), mat, 1, out=TakenOut(old, "worn"), **given)
    empty = make_plain_mat(mat.design)
    alone = fit_segment(make_plain_segment(), empty, 1, **given)
    assert (done.fitting.ended, alone.fitting.ended) == (old, None)


def test_one_that_is_refused_leaves_all_as_they_were(mat, keeper, today):
    damaged = make_plain_segment()
    fit(damaged, make_plain_mat(mat.design), 1, today - timedelta(days=9))
    make_fault(damaged.fittings.get().mat, reported_on=today)
    fits = [Fit(1, make_plain_segment(), out(mat, 1)), Fit(2, damaged, out(mat, 2), move=True)]
    with pytest.raises(ValidationError, match="has an open fault"):
        change(mat, *fits, keeper=keeper, today=today)
    assert mat.fittings.filter(removed_on=None).count() == mat.fittings.count() == 4


def test_cables_may_change_places(mat, keeper, today):
    one, two = held(mat, 1).segment, held(mat, 2).segment
    change(mat, Fit(1, two, out(mat, 1)), Fit(2, one, out(mat, 2)), keeper=keeper, today=today)
    assert (held(mat, 1).segment, held(mat, 2).segment) == (two, one)
    assert (one.withdrawn_on, two.withdrawn_on) == (None, None)


def test_a_cable_is_named_for_one_position_only(mat, keeper, today):
    new = make_plain_segment()
    with pytest.raises(ValidationError, match="named for two positions"):
        change(mat, Fit(1, new, out(mat, 1)), Fit(2, new, out(mat, 2)), keeper=keeper, today=today)


def test_one_may_come_out_with_nothing_in_its_place(mat, keeper, today):
    (done,) = change(mat, Fit(3, None, out(mat, 3, "back to the shelf")), keeper=keeper, today=today)
    assert done.taken_out.fittings.get().removed_on == today
    assert not Fitting.objects.current(today).filter(mat=mat, position=3).exists()


def test_all_that_differ_are_asked_about_in_one_question(mat, keeper, today):
    kind = mat.design.positions.first().cable_type
    long = [make_segment(2.0, f"LONG-{number}", cable_type=kind) for number in (1, 2)]
    fits = [Fit(position, segment, out(mat, position)) for position, segment in zip((1, 2), long, strict=True)]
    with pytest.raises(WantsConfirmation) as asked:
        change(mat, *fits, keeper=keeper, today=today, confirmed="")
    assert [point.partition(" is ")[0] for point in asked.value.points] == ["LONG-1", "LONG-2"]
    change(mat, *fits, keeper=keeper, today=today, confirmed=asked.value.fingerprint)
    assert [held(mat, position).segment for position in (1, 2)] == long


def test_what_comes_out_and_what_goes_in_is_assessed_at_once_and_faults_end(mat, keeper, today):
    make_fault(mat, position=1, reported_on=today)
    new = make_plain_segment()
    (done,) = change(mat, Fit(1, new, out(mat, 1)), keeper=keeper, today=today)
    assert done.ended_faults == 1
    assert Assessment.objects.get(segment=new).position == 1
    assert not Assessment.objects.filter(segment=done.taken_out).exists()
