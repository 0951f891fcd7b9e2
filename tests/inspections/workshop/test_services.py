"""Work orders: what they hold, what they refuse, and who wins when two people raise one at once."""

from datetime import date, timedelta

import pytest
from at_once import at_once
from django.core.exceptions import ValidationError
from factories import (
    fit,
    make_cable_type,
    make_design,
    make_fault,
    make_many_cables,
    make_mat,
    make_note,
    make_reading,
    make_segment,
)

from fleet.models import CableSegment
from fleet.services.fittings import fit_segment, take_out
from inspections.models import WorkOrder, WorkOrderLine
from inspections.workshop.remarks import Remarks, remarks_in_short
from inspections.workshop.services import raise_work_orders, withdraw_work_order
from inspections.workshop.steps import AFTER, BEFORE, CAUTIONS, FOR_EACH

ROOM = 170
ON = date(2026, 9, 30)

USUAL_STEPS = {"before": list(BEFORE), "each": list(FOR_EACH), "after": list(AFTER)}


def segments_of(mat):
    return CableSegment.objects.filter(fittings__mat=mat).order_by("fittings__position")


@pytest.fixture
def mat(db):
    return make_mat("M-017", fitted=True)


@pytest.fixture
def raised(mat, keeper):
    return raise_work_orders([segments_of(mat)[1].pk], by=keeper, on=ON)[0]


def test_each_mat_gets_an_order_of_its_own_numbered_within_the_year(db, keeper):
    mats = [make_mat("M-002", fitted=True), make_mat("M-001", fitted=True)]
    ids = [segment.pk for mat in mats for segment in segments_of(mat)[:2]]
    orders = raise_work_orders(ids, by=keeper, on=ON)
    assert [(order.number, order.mat.number) for order in orders] == [("W-2026-001", "M-001"), ("W-2026-002", "M-002")]
    assert [list(order.lines.values_list("position", flat=True)) for order in orders] == [[1, 2], [1, 2]]
    assert {order.recorded_by for order in orders} == {keeper}


def test_orders_are_raised_for_more_than_a_thousand_cables_at_once(db, keeper):
    orders = raise_work_orders(make_many_cables(mats=13, each=77), by=keeper, on=ON)
    assert [order.sheet["parts"][0]["count"] for order in orders] == [77] * 13


def test_numbers_go_on_after_999_and_begin_again_each_year(mat, keeper):
    for number in ("W-2025-004", "W-2026-999", "W-2026-1000"):
        WorkOrder.objects.create(number=number, mat=mat, raised_on=ON)
    first, second = segments_of(mat)[:2]
    assert raise_work_orders([first.pk], by=keeper, on=ON)[0].number == "W-2026-1001"
    assert raise_work_orders([second.pk], by=keeper, on=date(2027, 1, 2))[0].number == "W-2027-001"


def test_a_line_keeps_every_cause_as_data_with_the_leading_one_first(mat, keeper):
    segment = segments_of(mat)[0]
    make_fault(mat, "connector", 1, reported_on=date(2026, 9, 20))
    make_reading(segment, 3.4, date(2026, 9, 2), temperature_c=20)
    order = raise_work_orders([segment.pk], by=keeper, on=ON)[0]
    lead, loss, *others = order.lines.get().reasons
    assert (lead["cause"], lead["basis"], lead["due_on"]) == ("damage", "connector", "2026-09-20")
    assert (loss["cause"], loss["value"], loss["limit"], loss["day"]) == ("loss", 3.4, 3.0, "2026-09-02")
    assert [reason["cause"] for reason in others] == ["age", "events"]


def test_parts_are_counted_by_cable_type_and_length(db, keeper):
    thin, thick = make_cable_type("thin"), make_cable_type("thick")
    design = make_design(lengths_m=(0.6, 1.1, 1.1), cable_type=thin)
    design.positions.create(number=4, length_m=1.1, cable_type=thick)
    mat = make_mat(design=design, fitted=True)
    order = raise_work_orders([segment.pk for segment in segments_of(mat)], by=keeper, on=ON)[0]
    assert order.sheet["parts"] == [
        {"cable_type": "thick", "length_m": 1.1, "length_basis": "known", "count": 1},
        {"cable_type": "thin", "length_m": 0.6, "length_basis": "known", "count": 1},
        {"cable_type": "thin", "length_m": 1.1, "length_basis": "known", "count": 2},
    ]


def test_what_goes_in_has_the_length_of_the_position(mat, keeper):
    old = segments_of(mat)[0]
    CableSegment.objects.filter(pk=old.pk).update(length_m=0.65)
    order = raise_work_orders([old.pk], by=keeper, on=ON)[0]
    assert order.sheet["parts"][0]["length_m"] == 0.6


def test_tools_are_those_of_the_cable_type_and_unknown_ones_stay_unknown(db, keeper):
    known = make_cable_type("known", spanner_mm=8, torque_min_nm=0.4, torque_max_nm=0.6, bend_radius_mm=30)
    mat = make_mat(design=make_design(lengths_m=(0.6,), cable_type=known), fitted=True)
    other = make_mat(design=make_design(lengths_m=(0.6,), cable_type=make_cable_type("unknown")), fitted=True)
    ids = [segment.pk for each in (mat, other) for segment in segments_of(each)]
    first, second = raise_work_orders(ids, by=keeper, on=ON)
    assert first.sheet["tools"] == [
        {"cable_type": "known", "spanner_mm": 8, "torque_min_nm": 0.4, "torque_max_nm": 0.6, "bend_radius_mm": 30}
    ]
    assert set(second.sheet["tools"][0].values()) == {"unknown", None}


def test_steps_are_the_designs_own_else_the_usual_ones(db, keeper):
    own = make_mat(design=make_design(steps="Open the zip.\n\n Change it. "), fitted=True)
    usual = make_mat(fitted=True)
    ids = [segments_of(own)[0].pk, segments_of(usual)[0].pk]
    sheets = {order.mat: order.sheet for order in raise_work_orders(ids, by=keeper, on=ON)}
    assert sheets[own]["steps"] == ["Open the zip.", "Change it."]
    assert sheets[usual]["steps"] == USUAL_STEPS
    assert len(sheets[own]["cautions"]) == len(CAUTIONS)


def test_the_weight_of_the_design_stands_in_the_caution_and_an_unknown_one_is_a_blank(db, keeper):
    heavy, unknown = (make_mat(design=make_design(weight_kg=kg), fitted=True) for kg in (24.5, None))
    ids = [segments_of(heavy)[0].pk, segments_of(unknown)[0].pk]
    first, second = raise_work_orders(ids, by=keeper, on=ON)
    weight = "24.5\N{NO-BREAK SPACE}kg"
    assert f"Lift with two people, from the knees: this mat weighs {weight}, more when wet." in first.sheet["cautions"]
    assert (
        "Lift with two people, from the knees: weight of this mat, not recorded: ____ kg, more when wet."
        in second.sheet["cautions"]
    )


def test_the_sheet_stays_as_it_was_raised(raised, mat):
    mat.design.positions.update(length_m=9)
    mat.design.steps = "Something else."
    mat.design.save()
    sheet = WorkOrder.objects.get().sheet
    assert sheet["steps"] == USUAL_STEPS
    assert [position["length_m"] for position in sheet["positions"]] == [0.6, 1.1, 1.6, 2.1]
    assert [position["position"] for position in sheet["positions"] if position["change"]] == [2]


def test_a_segment_on_an_open_order_is_refused_with_its_number_and_nothing_is_raised(raised, mat, keeper):
    ids = [segment.pk for segment in segments_of(mat)]
    with pytest.raises(ValidationError) as refusal:
        raise_work_orders(ids, by=keeper, on=ON + timedelta(days=30))
    assert refusal.value.messages == [f"{segments_of(mat)[1]} is on open work order W-2026-001 already."]
    assert WorkOrder.objects.count() == 1


def test_an_order_older_than_thirty_days_gives_its_segments_free(raised, mat, keeper):
    later = ON + timedelta(days=31)
    new = raise_work_orders([segments_of(mat)[1].pk], by=keeper, on=later)[0]
    assert raised.state_on(later) == "out of date"
    assert list(WorkOrderLine.objects.order_by("pk").values_list("work_order__number", "is_open")) == [
        (raised.number, False),
        (new.number, True),
    ]


def test_a_withdrawn_order_gives_its_segments_free_and_keeps_its_reason(raised, mat, keeper):
    withdraw_work_order(raised, by=keeper, on=ON, reason="wrong mat")
    assert (raised.state_on(ON), raised.withdrawal_reason) == ("withdrawn", "wrong mat")
    assert raised.history.first().history_user == keeper
    assert raise_work_orders([segments_of(mat)[1].pk], by=keeper, on=ON)[0].number == "W-2026-002"


def test_an_order_is_withdrawn_once_and_with_a_reason(raised, keeper):
    with pytest.raises(ValidationError, match="Say why"):
        withdraw_work_order(raised, by=keeper, on=ON, reason=" ")
    withdraw_work_order(raised, by=keeper, on=ON, reason="wrong mat")
    with pytest.raises(ValidationError, match="already"):
        withdraw_work_order(raised, by=keeper, on=ON, reason="again")


def test_a_segment_that_is_in_no_mat_is_refused_by_its_serial(raised, keeper):
    spare = make_segment(serial="C-SPARE")
    with pytest.raises(ValidationError, match="C-SPARE: not in a mat in service"):
        raise_work_orders([spare.pk], by=keeper, on=ON)


def test_no_segments_and_unknown_ones_are_refused(db, keeper):
    with pytest.raises(ValidationError, match="at least one"):
        raise_work_orders([], by=keeper, on=ON)
    with pytest.raises(ValidationError, match="not in a mat"):
        raise_work_orders([987654], by=keeper, on=ON)


def test_a_position_beyond_the_design_still_gets_its_part(mat, keeper):
    extra = make_segment(2.6)
    fit(extra, mat, 9)
    order = raise_work_orders([extra.pk], by=keeper, on=ON)[0]
    part = {"cable_type": extra.cable_type.name, "length_m": 2.6, "length_basis": "known", "count": 1}
    assert order.sheet["parts"] == [part]


def test_a_segment_that_came_out_stands_on_no_open_order_any_more(keeper):
    mat = make_mat(fitted=True)
    first, second = segments_of(mat)[:2]
    order = raise_work_orders([first.pk, second.pk], by=keeper, on=ON)[0]
    fitting = first.fittings.get()
    take_out(fitting, by=keeper, on=ON, removed_on=ON, reason="worn")
    assert list(order.lines.filter(is_open=True).values_list("segment", flat=True)) == [second.pk]
    fit_segment(first, make_mat(), 1, by=keeper, on=ON, fitted_on=ON)
    assert raise_work_orders([first.pk], by=keeper, on=ON)[0].number != order.number


@pytest.mark.django_db(transaction=True)
def test_of_two_people_who_raise_the_same_order_at_once_one_gets_it(keeper):
    mat = make_mat("M-017", fitted=True)
    ids = [segment.pk for segment in segments_of(mat)]
    answers = at_once(5, lambda: raise_work_orders(ids, by=keeper, on=ON)[0].number)
    assert sorted(map(str, answers))[-1] == "W-2026-001"
    assert sum("already" in str(answer) for answer in answers) == 4
    assert WorkOrder.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_people_who_raise_orders_for_different_mats_at_once_get_different_numbers(keeper):
    ids = iter([segments_of(make_mat(fitted=True))[0].pk for _ in range(5)])
    numbers = at_once(5, lambda: raise_work_orders([next(ids)], by=keeper, on=ON)[0].number)
    assert sorted(numbers) == [f"W-2026-00{n}" for n in range(1, 6)]


def test_open_notes_and_faults_of_the_mat_stand_on_its_sheet_and_those_that_end_stay(mat, keeper):
    make_note(mat, "drops on the left side")
    make_note(mat, "wiped", done_on=date(2026, 5, 4))
    make_note(make_mat(), "of another mat")
    make_fault(mat, "one of the cables", None, date(2026, 5, 3), what="crackles")
    make_fault(mat, "connector", 1, date(2026, 5, 3), number=2)
    make_fault(mat, "wet", None, date(2026, 5, 3), number=3, ended_on=date(2026, 5, 4), end_reason="dried")
    first = mat.fittings.get(position=1)
    (order,) = raise_work_orders([first.segment_id], by=keeper, on=ON)
    known = ("fault: one of the cables (crackles)", "drops on the left side")
    assert remarks_in_short(order.sheet, ROOM) == Remarks(known, more=False)
    mat.faults.update(ended_on=ON, end_reason="repair")
    order.refresh_from_db()
    assert remarks_in_short(order.sheet, ROOM).texts == known


def test_damage_of_a_cable_that_is_not_to_be_changed_stands_there_too(mat, keeper):
    make_fault(mat, "connector", 2, date(2026, 5, 3))
    (order,) = raise_work_orders([mat.fittings.get(position=1).segment_id], by=keeper, on=ON)
    assert remarks_in_short(order.sheet, ROOM).texts == ("fault: connector, position 2",)


def test_what_has_no_room_on_the_sheet_is_cut_and_said_to_be_more():
    sheet = {"notes": [{"text": "a" * 100}, {"text": "b" * 100}, {"text": "c"}]}
    first, second = remarks_in_short(sheet, ROOM).texts
    assert first == "a" * 100 and second.strip("b") == "…" and len(first + second) <= ROOM
    assert remarks_in_short(sheet, ROOM).more and remarks_in_short({}, ROOM) == Remarks((), more=False)
