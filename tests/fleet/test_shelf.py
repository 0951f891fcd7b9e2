"""The shelf: what is received, fitted, counted and moved stands in a ledger that says what the register says."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from factories import fit, make_cable_type, make_depot, make_design, make_mat, make_segment

from fleet.models import StockEntry
from fleet.models.stock import Pile
from fleet.services.arrivals import Arrival
from fleet.services.deleting import undo_fitting, undo_segment
from fleet.services.fittings import TakenOut, correct_fitting, fit_segment, take_out
from fleet.services.locks import hold_pool
from fleet.services.register import add_segment, correct_segment, return_to_use, withdraw_segment
from fleet.services.shelf import (
    count_cables,
    lie_there,
    move_cables,
    move_segments,
    receive_cables,
    receive_sets,
    scrap_cables,
)
from fleet.services.shelf_of_kind import count_kind

pytestmark = pytest.mark.django_db


@pytest.fixture
def thin():
    return make_cable_type("Fen 2.5")


@pytest.fixture
def quay():
    return make_depot("Quay Street")


@pytest.fixture
def acts(keeper, today):
    return {"by": keeper, "on": today}


@pytest.fixture
def pile(thin, quay):
    return Pile(thin, 0.6, quay, "L-7")


def told(**of):
    """(change, reason, depot, left) of these entries, the first one first."""
    rows = StockEntry.objects.filter(**of).order_by("number")
    return [(row.change, row.reason, row.depot and row.depot.name, row.left) for row in rows]


def refused(act, *args, **kwargs):
    with pytest.raises(ValidationError) as refusal:
        act(*args, **kwargs)
    return " ".join(refusal.value.messages)


# --- cables without a serial


def test_what_is_received_counted_scrapped_and_moved_is_what_lies_there(pile, thin, acts, today):
    day = today - timedelta(days=3)
    receive_cables(pile, 20, day=day, note="delivery 4", **acts)
    scrap_cables(pile, 2, day=today, reason="crushed", **acts)
    count_cables({pile: 17}, reason="nobody knows", **acts)
    hangar = make_depot("Hangar 2")
    move_cables(pile, 5, hangar, day=today, **acts)
    assert lie_there(pile) == 12
    assert lie_there(Pile(thin, 0.6, hangar, "L-7")) == 5
    assert told() == [
        (20, "received", "Quay Street", 20),
        (-2, "scrapped", "Quay Street", 18),
        (-1, "counted", "Quay Street", 17),
        (-5, "moved", "Quay Street", 12),
        (5, "moved", "Hangar 2", 5),
    ]
    assert [row.number for row in StockEntry.objects.order_by("pk")] == [1, 2, 3, 4, 5]


def test_no_more_goes_than_lies_there(pile, acts, today):
    receive_cables(pile, 3, day=today, **acts)
    said = refused(scrap_cables, pile, 4, day=today, reason="crushed", **acts)
    assert said == (
        "3 lie on the shelf of 0.60 m of Fen 2.5, lot L-7, at Quay Street: 4 cannot be taken. "
        "Look again, or count them."
    )
    assert "1 lies" not in said and lie_there(pile) == 3


def test_a_count_that_agrees_books_nothing_and_one_that_differs_wants_a_reason(pile, acts, today):
    receive_cables(pile, 3, day=today, **acts)
    assert count_cables({pile: 3}, reason="", **acts) == []
    assert "Say why it differs" in refused(count_cables, {pile: 2}, reason=" ", **acts)
    assert lie_there(pile) == 3


def test_a_count_of_what_changed_meanwhile_is_not_booked(pile, thin, acts, today):
    receive_cables(pile, 3, day=today, **acts)
    seen = 1
    receive_cables(Pile(thin, 1.1), 8, day=today, **acts)
    count_kind({pile: 2}, reason="lost", seen=seen, **acts)
    assert "just changed" in refused(count_kind, {pile: 5}, reason="found", seen=seen, **acts)


def test_a_set_lies_there_as_its_cables(thin, quay, acts, today):
    design = make_design("D-4", lengths_m=(0.6, 0.6, 1.1), cable_type=thin)
    receive_sets(design, 2, day=today, depot=quay, lot="L-9", **acts)
    assert [(row.length_m, row.change, row.note) for row in StockEntry.objects.order_by("number")] == [
        (0.6, 4, "2 sets of D-4"),
        (1.1, 2, "2 sets of D-4"),
    ]
    assert "no cable" in refused(receive_sets, make_design("D-0", lengths_m=()), 1, day=today, **acts)


def test_nothing_is_received_tomorrow(pile, acts, today):
    assert "after" in refused(receive_cables, pile, 3, day=today + timedelta(days=1), **acts)


# --- cables with a serial


@pytest.fixture
def mat(thin, quay):
    return make_mat("M-017", make_design(lengths_m=(0.6, 0.6), cable_type=thin), depot=quay)


def test_a_cable_is_followed_from_the_shelf_into_mats_and_back(mat, thin, quay, acts, today):
    first = today - timedelta(days=40)
    segment = add_segment(serial="C-1", cable_type=thin, length_m=0.6, lot="L-7", arrival=Arrival(quay), **acts)
    fitting = fit_segment(segment, mat, 1, fitted_on=first, **acts).fitting
    take_out(fitting, removed_on=today, reason="tried", **acts)
    withdraw_segment(segment, reason="crushed", **acts)
    return_to_use(segment, reason="not crushed", **acts)
    assert told(segment=segment) == [
        (1, "received", "Quay Street", 1),
        (-1, "fitted", "Quay Street", 0),
        (1, "returned", "Quay Street", 1),
        (-1, "scrapped", "Quay Street", 0),
        (1, "returned", None, 1),
    ]
    assert [row.day for row in StockEntry.objects.order_by("number")] == [today, first, today, today, today]


def test_a_cable_that_is_thrown_away_as_it_comes_out_is_never_on_the_shelf(mat, acts, today):
    old = fit(make_segment(0.6, cable_type=mat.design.positions.first().cable_type), mat)
    take_out(old, removed_on=today, reason="worn", goes="thrown away", **acts)
    assert told() == []


def test_a_move_from_mat_to_mat_leaves_the_shelf_as_it_is(mat, thin, acts, today):
    segment = add_segment(serial="C-1", cable_type=thin, length_m=0.6, **acts)
    fit_segment(segment, mat, 1, fitted_on=today - timedelta(days=9), **acts)
    fit_segment(segment, mat, 2, fitted_on=today, move=True, **acts)
    assert told() == [(1, "received", None, 1), (-1, "fitted", None, 0)]


def test_a_fitting_that_is_deleted_puts_both_cables_back(mat, thin, acts, today):
    old = fit(make_segment(0.6, "C-0", cable_type=thin), mat)
    new = add_segment(serial="C-1", cable_type=thin, length_m=0.6, **acts)
    done = fit_segment(new, mat, 1, fitted_on=today, out=TakenOut(old, "worn"), **acts)
    hold_pool()
    undo_fitting(done.fitting, reason="never so", **acts)
    assert told(segment=new) == [(1, "received", None, 1), (-1, "fitted", None, 0), (1, "fitted", None, 1)]
    assert told(segment=old.segment) == [(1, "returned", "Quay Street", 1), (-1, "returned", "Quay Street", 0)]


def test_a_fitting_that_is_said_to_last_takes_its_cable_off_the_shelf(mat, thin, acts, today):
    segment = add_segment(serial="C-1", cable_type=thin, length_m=0.6, **acts)
    fitting = fit_segment(segment, mat, 1, fitted_on=today, **acts).fitting
    take_out(fitting, removed_on=today, reason="tried", **acts)
    correct_fitting(fitting, removed_on=None, removal_reason="", **acts)
    assert told()[-2:] == [(1, "returned", "Quay Street", 1), (-1, "fitted", "Quay Street", 0)]


def test_a_cable_of_another_length_than_was_thought_lies_there_with_its_length(thin, quay, acts):
    segment = add_segment(serial="C-1", cable_type=thin, length_m=0.6, arrival=Arrival(quay), **acts)
    correct_segment(segment, length_m=0.65, **acts)
    rows = StockEntry.objects.order_by("number").values_list("length_m", "change", "reason", "depot__name")
    assert list(rows)[1:] == [(0.6, -1, "counted", "Quay Street"), (0.65, 1, "counted", "Quay Street")]


def test_cables_with_a_serial_move_to_another_depot(thin, quay, acts, today):
    one, other = (
        add_segment(serial=serial, cable_type=thin, length_m=0.6, arrival=Arrival(quay), **acts)
        for serial in ("C-1", "C-2")
    )
    move_segments([one], None, day=today, **acts)
    assert told(segment=one)[1:] == [(-1, "moved", "Quay Street", 0), (1, "moved", None, 1)]
    assert move_segments([other], quay, day=today, **acts) == []
    withdraw_segment(other, reason="lost", **acts)
    assert refused(move_segments, [one, other], quay, day=today, **acts).startswith("Not on the shelf any more: C-2.")


# --- a cable that gets its serial


def test_a_cable_that_was_counted_is_counted_no_more_once_it_has_a_serial(pile, thin, acts, today):
    receive_cables(pile, 3, day=today, **acts)
    segment = add_segment(serial="C-1", cable_type=thin, length_m=0.6, arrival=Arrival(counted=True), **acts)
    assert segment.lot == "L-7"
    assert told()[1:] == [(-1, "moved", "Quay Street", 2), (1, "moved", "Quay Street", 1)]
    hold_pool()
    undo_segment(segment, reason="never so", **acts)
    assert told()[1:] == [(-1, "moved", "Quay Street", 2), (1, "moved", "Quay Street", 3)]


def test_one_of_several_lots_is_named(pile, thin, quay, acts, today):
    receive_cables(pile, 3, day=today, **acts)
    receive_cables(Pile(thin, 0.6, quay, "L-8"), 3, day=today, **acts)
    new = {"serial": "C-1", "cable_type": thin, "length_m": 0.6, "arrival": Arrival(counted=True)}
    assert "from several lots: L-7, L-8. Write the lot" in refused(add_segment, **new, **acts)
    add_segment(lot="L-8", **new, **acts)
    assert lie_there(pile) == 3 and lie_there(Pile(thin, 0.6, quay, "L-8")) == 2


def test_none_is_taken_where_none_lies_there(pile, thin, acts, today):
    receive_cables(pile, 1, day=today, **acts)
    new = {"cable_type": thin, "length_m": 1.1, "serial": "C-1"}
    assert "No 1.10 m of Fen 2.5" in refused(add_segment, arrival=Arrival(counted=True), **new, **acts)
    add_segment(arrival=Arrival(counted=None), **new, **acts)
    assert told()[1:] == [(1, "received", None, 1)]
