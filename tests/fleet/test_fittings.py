"""Cables in positions: fitted, taken out, moved, and what the rules refuse."""

import threading
from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from factories import FITTED_ON, fit, make_design, make_fault, make_mat, make_segment

from fleet.choices import Disposition, FaultEnd
from fleet.models import CableSegment, Fitting, Mat
from fleet.services.fittings import TakenOut, correct_fitting, fit_segment, take_out
from fleet.services.register import correct_mat, return_to_use, withdraw_segment
from inspections.assessment.services import assess_pool
from inspections.models import Assessment

ON = date(2026, 9, 30)
DAY = date(2026, 9, 28)


@pytest.fixture
def mat(db):
    return make_mat("M-017", fitted=True)


def in_position(mat, position=1):
    return mat.fittings.get(position=position, removed_on=None)


def put_in(segment, mat, keeper, position=1, fitted_on=DAY, **values):
    return fit_segment(segment, mat, position, by=keeper, on=ON, fitted_on=fitted_on, **values)


def test_fitting_into_an_occupied_position_takes_the_old_cable_out_in_the_same_act(mat, keeper):
    old, spare = in_position(mat), make_segment(0.6)
    done = put_in(spare, mat, keeper, out=TakenOut(old, "3.2 dB measured", Disposition.AWAY))
    old.refresh_from_db()
    assert (old.removed_on, old.removal_reason) == (DAY, "3.2 dB measured")
    assert (in_position(mat).segment, in_position(mat).ended) == (spare, old)
    assert done.taken_out == old.segment
    thrown = CableSegment.objects.get(pk=old.segment_id)
    assert (thrown.withdrawn_on, thrown.withdrawal_reason) == (DAY, "3.2 dB measured")


def test_an_occupied_position_is_refused_without_a_cause_and_nothing_changes(mat, keeper):
    old, spare = in_position(mat), make_segment(0.6)
    for out in (None, TakenOut(old, "  ")):
        with pytest.raises(ValidationError):
            put_in(spare, mat, keeper, out=out)
    assert in_position(mat) == old
    assert not spare.fittings.exists()


def test_a_cable_taken_out_for_the_shelf_is_a_spare_again(mat, keeper):
    old = in_position(mat)
    put_in(make_segment(0.6), mat, keeper, out=TakenOut(old, "longer one needed", Disposition.SHELF))
    assert list(CableSegment.objects.on_shelf(ON)) == [old.segment]


def test_the_change_ends_the_open_faults_of_that_cable_from_that_day(mat, keeper):
    fault = make_fault(mat, "connector", 1, reported_on=date(2026, 9, 20))
    other_place = make_fault(mat, "cover or fold", 1, reported_on=date(2026, 9, 20), number=2)
    other_position = make_fault(mat, "cable", 2, reported_on=date(2026, 9, 20), number=3)
    reported_later = make_fault(mat, "cable", 1, reported_on=date(2026, 9, 29))
    put_in(make_segment(0.6), mat, keeper, out=TakenOut(in_position(mat), "torn"))
    for row in (fault, other_place, other_position, reported_later):
        row.refresh_from_db()
    assert (fault.ended_on, fault.end_reason) == (DAY, FaultEnd.CHANGE)
    assert [row.ended_on for row in (other_place, other_position, reported_later)] == [None, None, None]


def test_a_damaged_cable_goes_to_the_shelf_only_with_a_remark_and_is_remembered_when_fitted(mat, keeper):
    make_fault(mat, "cable", 1, reported_on=DAY)
    old = in_position(mat)
    out = put_in(make_segment(0.6), mat, keeper, out=TakenOut(old, "crushed", Disposition.SHELF))
    assert "look at it before it is fitted again" in out.remarks[-1]
    again = put_in(old.segment, make_mat("M-018"), keeper, fitted_on=ON)
    assert any("was once taken out with a fault" in remark for remark in again.remarks)


def test_a_cable_with_an_open_fault_is_fitted_nowhere_else(mat, keeper):
    make_fault(mat, "cable", 1, reported_on=date(2026, 9, 20))
    with pytest.raises(ValidationError, match="open fault"):
        put_in(in_position(mat).segment, make_mat("M-018"), keeper, move=True)


def test_a_cable_that_moves_to_another_mat_keeps_its_past(mat, keeper):
    segment, other = in_position(mat).segment, make_mat("M-018")
    done = put_in(segment, other, keeper, move=True)
    lives = [(f.mat.number, f.fitted_on, f.removed_on) for f in segment.fittings.order_by("fitted_on")]
    assert lives == [("M-017", FITTED_ON, DAY), ("M-018", DAY, None)]
    assert done.moved_from.removal_reason == "moved to M-018 position 1"


def test_a_cable_in_place_elsewhere_moves_only_when_told(mat, keeper):
    segment = in_position(mat).segment
    with pytest.raises(ValidationError, match="is in M-017 position 1"):
        put_in(segment, make_mat("M-018"), keeper)
    assert segment.fittings.count() == 1


def test_another_length_is_a_remark_and_no_refusal(mat, keeper):
    done = put_in(make_segment(0.9), mat, keeper, out=TakenOut(in_position(mat), "worn"))
    assert "0.90 m long, its position is for 0.60 m" in done.remarks[0]
    same = make_segment(1.1, cable_type=mat.design.positions.get(number=2).cable_type)
    assert put_in(same, mat, keeper, position=2, out=TakenOut(in_position(mat, 2), "worn")).remarks == ()


def test_days_ahead_positions_that_are_not_there_and_withdrawn_things_are_refused(mat, keeper):
    spare = make_segment(0.6)
    cases = [
        (spare, mat, 1, date(2026, 10, 1), "after today"),
        (spare, mat, 5, DAY, "has no position 5"),
        (spare, make_mat("M-090", withdrawn_on=DAY, withdrawal_reason="lost"), 1, DAY, "withdrawn.*lost"),
        (make_segment(0.6, withdrawn_on=DAY), mat, 1, DAY, "was withdrawn"),
    ]
    for segment, into, position, day, sentence in cases:
        with pytest.raises(ValidationError, match=sentence):
            put_in(segment, into, keeper, position, day)
    assert not spare.fittings.exists()


def test_a_fitting_before_or_among_earlier_ones_is_refused(mat, keeper):
    past = make_mat("M-018")
    fit(make_segment(0.6), past, 1, date(2025, 1, 1), date(2026, 9, 29))
    with pytest.raises(ValidationError, match="holds one cable at a time"):
        put_in(make_segment(0.6), past, keeper)
    with pytest.raises(ValidationError, match="holds one cable at a time"):
        put_in(make_segment(0.6), mat, keeper, fitted_on=date(2025, 2, 1), out=TakenOut(in_position(mat), "worn"))


def test_a_cable_is_fitted_once_a_day(mat, keeper):
    segment = make_segment(0.6)
    put_in(segment, make_mat("M-018"), keeper)
    with pytest.raises(ValidationError, match="on the same day"):
        put_in(segment, make_mat("M-019"), keeper, move=True)


def test_taking_out_leaves_the_position_empty_and_the_list_without_the_cable(mat, keeper):
    assess_pool(ON)
    fitting = in_position(mat)
    take_out(fitting, by=keeper, on=ON, removed_on=DAY, reason="for another mat", seen_version=fitting.version)
    assert not mat.fittings.filter(position=1, removed_on=None).exists()
    assert not Assessment.objects.filter(segment=fitting.segment).exists()
    with pytest.raises(ValidationError, match="already"):
        take_out(fitting, by=keeper, on=ON, removed_on=DAY, reason="again")


def test_the_new_cable_is_assessed_at_once(mat, keeper):
    spare = make_segment(0.6)
    put_in(spare, mat, keeper, out=TakenOut(in_position(mat), "worn"))
    row = Assessment.objects.get(segment=spare)
    assert (row.mat, row.position) == (mat, 1)


def test_taking_out_ends_not_before_the_fitting_began(mat, keeper):
    with pytest.raises(ValidationError, match="write a day from then on"):
        take_out(in_position(mat), by=keeper, on=ON, removed_on=date(2025, 2, 1), reason="slip")


def test_a_corrected_fitting_keeps_the_old_day_in_its_trail(mat, keeper):
    fitting = in_position(mat)
    correct_fitting(fitting, by=keeper, on=ON, reason="read the label again", fitted_on=date(2024, 3, 1))
    first, corrected = fitting.history.order_by("history_id")
    assert (first.fitted_on, corrected.fitted_on) == (FITTED_ON, date(2024, 3, 1))
    assert corrected.history_change_reason == "read the label again"


def test_a_corrected_fitting_may_not_outlast_its_cable(mat, keeper):
    fitting = in_position(mat)
    take_out(fitting, by=keeper, on=ON, removed_on=DAY, reason="worn", goes=Disposition.AWAY)
    for day in (None, ON):
        with pytest.raises(ValidationError, match="was withdrawn on 28 Sep 2026: it came out by then"):
            correct_fitting(fitting, by=keeper, on=ON, removed_on=day)
    correct_fitting(fitting, by=keeper, on=ON, removed_on=DAY - timedelta(days=1))
    return_to_use(fitting.segment, by=keeper, on=ON)
    correct_fitting(fitting, by=keeper, on=ON, removed_on=None)
    assert in_position(mat) == fitting


def test_a_corrected_fitting_may_not_stay_where_no_position_is_any_more(mat, keeper):
    fitting = in_position(mat, 4)
    take_out(fitting, by=keeper, on=ON, removed_on=DAY, reason="worn")
    correct_mat(mat, by=keeper, on=ON, design=make_design("three", lengths_m=(0.6, 1.1, 1.6)))
    fitting = Fitting.objects.get(pk=fitting.pk)
    with pytest.raises(ValidationError, match="M-017 has no position 4 any more: its design is three"):
        correct_fitting(fitting, by=keeper, on=ON, removed_on=None)
    correct_fitting(fitting, by=keeper, on=ON, removed_on=ON)


def test_a_corrected_fitting_may_not_reach_into_another(mat, keeper):
    segment = make_segment(0.6)
    earlier = fit(segment, make_mat("M-018"), 1, date(2024, 1, 1), date(2025, 1, 1), removal_reason="worn")
    fit(segment, make_mat("M-019"), 1, date(2025, 6, 1))
    with pytest.raises(ValidationError, match="holds one cable at a time"):
        correct_fitting(earlier, by=keeper, on=ON, removed_on=date(2025, 7, 1))


def test_a_fitted_cable_is_not_thrown_away_without_being_taken_out(mat, keeper):
    with pytest.raises(ValidationError, match="Take it out there first"):
        withdraw_segment(in_position(mat).segment, by=keeper, on=ON, reason="worn")


def at_once(*acts):
    """Run these at the same time in threads of their own; what each raised, or None."""
    start, raised = threading.Barrier(len(acts)), [None] * len(acts)

    def run(number, act):
        start.wait()
        try:
            act()
        except ValidationError as refused:
            raised[number] = refused
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return raised


@pytest.mark.django_db(transaction=True)
def test_of_two_people_who_fit_the_same_position_one_gets_a_sentence():
    from factories import make_person

    keeper = make_person()
    make_mat("M-017", design=make_design(lengths_m=(0.6,)))
    spares = [make_segment(0.6), make_segment(0.6)]
    raised = at_once(*[lambda spare=spare: put_in(spare, Mat.objects.get(), keeper) for spare in spares])
    refused = [error for error in raised if error]
    assert len(refused) == 1
    assert "position 1 of M-017" in refused[0].messages[0] or "Position 1 of M-017" in refused[0].messages[0]
    assert Fitting.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_people_who_change_the_same_cable_one_does_not_take_out_the_others_new_one():
    from factories import make_person

    keeper, mat = make_person(), make_mat("M-017", design=make_design(lengths_m=(0.6,)), fitted=True)
    out = TakenOut(mat.fittings.get(), "worn")
    spares = [make_segment(0.6), make_segment(0.6)]
    raised = at_once(*[lambda spare=spare: put_in(spare, Mat.objects.get(), keeper, out=out) for spare in spares])
    assert sum(error is not None for error in raised) == 1
    assert Fitting.objects.filter(removed_on=None).count() == 1
    assert Fitting.objects.count() == 2
