"""What was done by a work order is told back: each line done or left with a reason, then it is signed off."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from factories import make_due_mat, make_plain_mat, make_plain_segment

from fleet.choices import Disposition
from fleet.services.fittings import TakenOut, fit_segment, take_out
from inspections.models import Assessment, Measurement, WorkOrder
from inspections.numeric.words import DUE
from inspections.validators import TypedLoss
from inspections.workshop.change_services import Bench, Change, GoesIn, change_cables
from inspections.workshop.services import raise_work_orders, renew_work_order, withdraw_work_order
from inspections.workshop.sign_off_services import answer_order

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat(today):
    return make_due_mat(3, today)


@pytest.fixture
def order(mat, keeper, today):
    return raise_work_orders(mat.fittings.values_list("segment", flat=True), by=keeper, on=today)[0]


def held(mat, position):
    return mat.fittings.select_related("segment").get(position=position, removed_on=None)


def new_in(mat, position, **values):
    return Change(position, GoesIn(), TakenOut(held(mat, position), "worn", Disposition.AWAY), **values)


def told(order, keeper, today, *changes, **values):
    given = {"by": keeper, "on": today, "changed_on": today, "confirmed": ""}
    return answer_order(order, changes=changes, **given | values)


def lines(order):
    return [
        (line.position, line.done_on is not None, line.left_reason, line.answered_by, line.is_open)
        for line in order.lines.all()
    ]


def test_it_is_worked_in_several_sittings_and_signed_off_by_who_told_the_last_line(mat, order, keeper, today):
    order, _ = told(order, keeper, today, new_in(mat, 1), bench=Bench(measured_by="Tam"))
    assert (order.state_on(today), order.count_answered()) == ("begun", 1)
    order, _ = told(order, keeper, today, left={2: "no spanner"}, bench=Bench(measured_by="Tam"))
    assert order.state_on(today) == "begun"
    order, _ = told(order, keeper, today, new_in(mat, 3), bench=Bench(measured_by="Ida"))
    assert lines(order) == [
        (1, True, "", "Tam", False),
        (2, False, "no spanner", "Tam", False),
        (3, True, "", "Ida", False),
    ]
    assert (order.state_on(today), order.signed_by, order.signed_on) == ("signed off", "Ida", today)


def test_a_line_keeps_the_new_cable_whose_reading_is_stored_with_it(mat, order, keeper, today):
    told(order, keeper, today, new_in(mat, 1, new_loss=TypedLoss(0.7)))
    new = held(mat, 1).segment
    assert order.lines.get(position=1).new_segment == new
    assert Measurement.objects.get(segment=new).loss_db == 0.7


def test_a_line_that_was_left_stays_due_and_may_stand_on_another_order(mat, order, keeper, today):
    told(order, keeper, today, left={1: "ran out of time"})
    segment = held(mat, 1).segment
    assert Assessment.objects.of_status(*DUE).filter(segment=segment).exists()
    assert raise_work_orders([segment.pk], by=keeper, on=today)[0].number == "W-" + f"{today:%Y}-002"


def test_a_change_told_elsewhere_answers_the_line_too(mat, order, keeper, today):
    change_cables(mat, [new_in(mat, 1)], by=keeper, on=today, changed_on=today)
    spare = make_plain_segment(serial="S-1")
    fit_segment(spare, mat, 2, by=keeper, on=today, fitted_on=today, out=TakenOut(held(mat, 2), "worn"))
    take_out(held(mat, 3), by=keeper, on=today, removed_on=today, reason="crushed")
    new = [held(mat, 1).segment, spare, None]
    assert [line.new_segment for line in order.lines.all()] == new
    assert [(line.done_on, line.answered_by) for line in order.lines.all()] == [(today, "keeper")] * 3
    assert order.state_on(today) == "begun"
    assert told(order, keeper, today)[0].state_on(today) == "signed off"


def test_a_cable_that_moved_away_answers_its_line_with_nothing_in_its_place(mat, order, keeper, today):
    other = make_plain_mat(mat.design)
    fit_segment(held(mat, 1).segment, other, 1, by=keeper, on=today, fitted_on=today, move=True)
    line = order.lines.get(position=1)
    assert (line.done_on, line.new_segment, line.is_open) == (today, None, False)


def test_signed_off_twice_it_changes_nothing_and_says_by_whom(mat, order, keeper, today):
    told(order, keeper, today, *(new_in(mat, number) for number in (1, 2, 3)), bench=Bench(measured_by="Tam"))
    with pytest.raises(ValidationError, match=r"was signed off on .* by Tam already"):
        told(order, keeper, today, new_in(mat, 1))
    assert mat.fittings.count() == 6


def test_a_line_is_answered_once(mat, order, keeper, today):
    told(order, keeper, today, left={1: "no spanner"})
    with pytest.raises(ValidationError, match="answered already"):
        told(order, keeper, today, left={1: "again"})
    assert order.lines.get(position=1).left_reason == "no spanner"


def test_a_refused_change_leaves_no_line_answered(mat, order, keeper, today):
    with pytest.raises(ValidationError, match="Not fit to go in"):
        told(order, keeper, today, new_in(mat, 1, new_loss=TypedLoss(2.0)), left={2: "no spanner"})
    assert {(line.is_open, line.left_reason) for line in order.lines.all()} == {(True, "")}


def test_what_else_is_changed_on_the_way_needs_no_line(mat, keeper, today):
    first = held(mat, 1).segment
    order = raise_work_orders([first.pk], by=keeper, on=today)[0]
    order, _ = told(order, keeper, today, new_in(mat, 1), new_in(mat, 2))
    assert order.state_on(today) == "signed off" and mat.fittings.filter(removed_on=today).count() == 2


def test_nothing_told_is_refused(order, keeper, today):
    with pytest.raises(ValidationError, match="Tick what was changed"):
        told(order, keeper, today)


def test_what_was_done_by_an_order_that_is_out_of_date_can_be_told(mat, keeper, today):
    old = today - timedelta(days=40)
    order = raise_work_orders([held(mat, 1).segment.pk], by=keeper, on=old)[0]
    assert order.state_on(today) == "out of date"
    order, _ = told(order, keeper, today, new_in(mat, 1))
    assert order.state_on(today) == "signed off"


# --- renewed


def test_renewed_it_asks_for_what_is_to_do_with_todays_numbers_and_the_old_one_names_it(mat, order, keeper, today):
    told(order, keeper, today, new_in(mat, 1))
    later = today + timedelta(days=40)
    order = WorkOrder.objects.get(pk=order.pk)
    order.correct(by=keeper, given_to="Tam")
    new = renew_work_order(order, by=keeper, on=later)
    assert (order.state_on(later), order.renewed_as, new.given_to) == ("renewed", new, "Tam")
    assert [line.position for line in new.lines.all()] == [2, 3]
    assert new.state_on(later) == "open" and not order.lines.filter(is_open=True).exists()


def test_of_a_renewed_order_nothing_is_told_any_more(mat, order, keeper, today):
    renew_work_order(order, by=keeper, on=today)
    for act in (
        lambda: told(order, keeper, today, new_in(mat, 1)),
        lambda: renew_work_order(order, by=keeper, on=today),
        lambda: withdraw_work_order(order, by=keeper, on=today, reason="lost"),
    ):
        with pytest.raises(ValidationError, match="was renewed as"):
            act()


def test_with_nothing_to_do_it_is_not_renewed(mat, order, keeper, today):
    change_cables(mat, [new_in(mat, number) for number in (1, 2, 3)], by=keeper, on=today, changed_on=today)
    with pytest.raises(ValidationError, match="Nothing is left to do"):
        renew_work_order(order, by=keeper, on=today)


def test_a_signed_order_is_neither_renewed_nor_withdrawn(order, keeper, today):
    told(order, keeper, today, left={1: "no time", 2: "no time", 3: "no time"})
    for act in (renew_work_order, withdraw_work_order):
        with pytest.raises(ValidationError, match="was signed off"):
            act(order, by=keeper, on=today, **({"reason": "lost"} if act is withdraw_work_order else {}))
