"""work_orders.csv: each line tells of its order; in, out and in again, and what is refused."""

from datetime import date, timedelta

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import make_mat, make_plain_design, make_plain_mat
from pool_files import FULL, pool_files

from fleet.choices import Disposition
from fleet.models import CableSegment, Mat
from fleet.services.fittings import TakenOut
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.files.saving import export_folder
from inspections.models import WorkOrder, WorkOrderLine
from inspections.workshop.change_services import Change, GoesIn
from inspections.workshop.services import raise_work_orders, withdraw_work_order
from inspections.workshop.sign_off_services import answer_order

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
HEAD = "work_order,mat,raised_on,position,segment"


def load(contents, by=None):
    return load_pool_files(contents, by=by, on=ON)


def orders(*lines, more=""):
    return {"work_orders.csv": "\n".join([f"{HEAD}{more}", *lines, ""]).encode()}


def found(contents):
    """(line, column, what was found, what is expected) of every error."""
    errors = check_pool_files(contents, on=ON).errors.in_order()
    return [(error.line, error.column, error.found, error.expected) for error in errors]


def lines():
    stored = WorkOrderLine.objects.order_by("work_order__number", "position")
    return list(stored.values_list("work_order__number", "position", "segment__serial", "is_open"))


def test_lines_of_one_order_are_stored_as_one_order(keeper):
    load(pool_files(**FULL), by=keeper)
    order = WorkOrder.objects.get(number="W-2025-001")
    assert (order.mat.number, order.raised_on, order.recorded_by) == ("M-1", date(2025, 1, 20), keeper)
    assert list(order.lines.values_list("position", "segment__serial", "done_on", "new_segment__serial")) == [
        (1, "C-1", None, None),
        (2, "C-2", date(2025, 2, 1), "C-00004"),
    ]
    assert order.lines.get(position=1).left_reason == "=looks new, reads 0.7 dB"
    given = WorkOrder.objects.get(number="W-2026-002")
    assert (given.given_to, given.planned_on) == ("ida", date(2026, 10, 4))


def test_orders_of_every_state_come_from_files():
    load(pool_files(**FULL))
    assert {order.number: order.state_on(ON) for order in WorkOrder.objects.all()} == {
        "W-2024-001": "withdrawn",
        "W-2025-001": "signed off",
        "W-2025-002": "renewed",
        "W-2025-003": "renewed",
        "W-2026-001": "out of date",
        "W-2026-002": "begun",
        "W-2026-003": "out of date",
    }
    open_lines = WorkOrderLine.objects.filter(is_open=True).values_list("work_order__number", "segment__serial")
    assert sorted(open_lines) == [("W-2026-002", "C-00004"), ("W-2026-003", "C-1")]


def test_a_line_that_says_nothing_of_it_is_open_where_its_order_is_and_it_has_no_answer():
    load(pool_files())
    rows = (
        "W-1,M-1,2026-09-20,1,C-1,,,",
        "W-2,M-1,2025-01-20,1,C-1,,,",
        "W-3,M-1,2026-09-19,1,C-1,,2026-09-20,",
        "W-4,M-1,2025-01-20,2,C-2,2025-02-01,,",
        "W-5,M-1,2026-09-20,1,C-1,,,looks new",
    )
    contents = orders(*rows, more=",done_on,withdrawn_on,left_reason")
    load(contents)
    assert [(number, is_open) for number, _, _, is_open in lines()] == [
        ("W-1", True),
        ("W-2", False),
        ("W-3", False),
        ("W-4", False),
        ("W-5", False),
    ]
    assert load(contents)[1] is None
    blank = orders(*(f"{row}," for row in rows), more=",done_on,withdrawn_on,left_reason,open")
    assert load(blank)[1] is None


ELSEWHERE = "where it came out, write when in done_on, why it was left in left_reason, or no in open"
MORE = ",done_on,new_segment,left_reason,open,withdrawn_on,withdrawal_reason,signed_on,signed_by,renewed_as"


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("W-1,M-9,2026-09-20,1,C-1", ("mat", "“M-9”", "a mat of mats.csv, or one that is stored already")),
        ("W-1,M-1,2026-09-20,1,C-9", ("segment", "“C-9”", "a segment of segments.csv, or one that is stored already")),
        (
            "W-1,M-2,2026-09-20,1,C-1",
            ("segment", "C-1 in M-2 position 1", f"the cable that is there; C-1 is in M-1 position 1; {ELSEWHERE}"),
        ),
        (
            "W-1,M-1,2026-09-20,2,C-2",
            ("segment", "C-2 in M-1 position 2", f"the cable that is there; C-2 is in no mat; {ELSEWHERE}"),
        ),
        (
            "W-1,M-1,2026-10-01,1,C-1",
            ("raised_on", "“2026-10-01”", "The day of raising 1 Oct 2026 is after today, 30 Sep 2026."),
        ),
        ("W-1,M-1,2026-09-20,0,C-1", ("position", "“0”", "a whole number from 1 to 32767")),
        (
            "W-1,M-1,2026-09-20,1,C-1,2026-09-21,C-3,looks new",
            ("left_reason", "“looks new”", "an empty cell: it was done on 2026-09-21"),
        ),
        (
            "W-1,M-1,2026-09-20,1,C-1,,C-3",
            ("done_on", "an empty cell", "the day on which C-3 went in, or an empty new_segment"),
        ),
        (
            "W-1,M-1,2026-09-20,1,C-1,2026-09-21,C-9",
            ("new_segment", "“C-9”", "a new_segment of segments.csv, or one that is stored already"),
        ),
        ("W-1,M-1,2026-09-20,1,C-1,,,,maybe", ("open", "“maybe”", "one of: yes, no")),
        (
            "W-1,M-1,2026-09-20,1,C-1,,,,yes,2026-09-21,why",
            ("open", "“yes”", "no: the order was withdrawn on 2026-09-21"),
        ),
        (
            "W-1,M-1,2026-09-20,1,C-1,,,,,2026-09-19,why",
            ("withdrawn_on", "“2026-09-19”", "a day not before raised_on, 2026-09-20"),
        ),
        (
            "W-1,M-1,2026-09-20,1,C-1,,,,,,why",
            ("withdrawn_on", "an empty cell", "the day it was withdrawn, since withdrawal_reason has a value"),
        ),
        (
            "W-1,M-1,2026-09-20,1,C-1,2026-09-21,,,yes",
            ("open", "“yes”", "no: it was done on 2026-09-21"),
        ),
        (
            "W-1,M-1,2026-09-20,1,C-1,,,,,,,,tam",
            ("signed_on", "an empty cell", "the day on which tam signed it off, or an empty signed_by"),
        ),
        (
            "W-1,M-1,2026-09-20,1,C-1,,,,,,,2026-09-19",
            ("signed_on", "“2026-09-19”", "a day not before raised_on, 2026-09-20"),
        ),
        (
            "W-1,M-1,2026-09-20,1,C-1,,,,,2026-09-22,,2026-09-21",
            (
                "signed_on",
                "“2026-09-21”",
                "an empty cell: the order was withdrawn on 2026-09-22, and only one of both can be",
            ),
        ),
        (
            "W-1,M-1,2026-09-20,1,C-1,,,,,,,,,W-9",
            ("renewed_as", "“W-9”", "a renewed_as of work_orders.csv, or one that is stored already"),
        ),
        (
            "W-1,M-1,2026-09-20,1,C-1,,,,,,,,,w-1",
            ("renewed_as", "“W-1”", "an order that was raised after W-1, 2026-09-20"),
        ),
    ],
)
def test_a_wrong_cell_is_named_with_what_is_expected(line, expected):
    load(pool_files())
    line += "," * (13 - line.count(","))
    assert found(orders(line, more=MORE)) == [(2, *expected)]


def test_lines_of_one_order_that_do_not_agree_are_refused_with_both_values():
    load(pool_files(fittings="segment,fitted_on,mat,position\nC-1,2024-02-01,M-1,1\nC-2,2024-02-01,M-1,2\n"))
    rows = ("W-1,M-1,2026-09-20,1,C-1,ida", "w-1,m-1,2026-09-21,2,C-2,")
    assert found(orders(*rows, more=",given_to")) == [
        (3, "raised_on", "“2026-09-21”", "“2026-09-20”, as line 2 has it: all lines of W-1 say the same"),
        (3, "given_to", "“”", "“ida”, as line 2 has it: all lines of W-1 say the same"),
    ]


def test_an_order_is_renewed_as_a_later_one_of_its_mat_that_renews_no_other():
    head = ",open,renewed_as"
    load(pool_files())
    load(orders("W-3,M-1,2026-09-20,1,C-1,yes,", "W-2,M-1,2025-05-20,1,C-1,,w-3", more=head))
    renewed = WorkOrder.objects.get(number="W-2")
    assert (renewed.renewed_as.number, renewed.state_on(ON)) == ("W-3", "renewed")
    rows = ("W-4,M-1,2026-09-21,1,C-1,,W-3", "W-5,M-2,2025-05-20,1,C-3,,W-3", "W-6,M-1,2025-05-20,1,C-1,,W-3")
    assert found(orders(*rows, more=head)) == [
        (2, "renewed_as", "“W-3”", "an order that was raised after W-4, 2026-09-21"),
        (3, "renewed_as", "“W-3”", "an order for M-2; W-3 is for M-1"),
        (4, "renewed_as", "“W-3”", "an order that renews one; W-3 renews W-2"),
    ]


def test_an_order_that_is_stored_takes_no_more_lines_and_one_that_differs_is_refused():
    load(pool_files() | orders("W-1,M-1,2026-09-20,1,C-1"))
    no_more = "a work_order that is not stored yet: W-1 is, and takes no more lines"
    assert found(orders("W-1,M-1,2026-09-20,2,C-2,no", more=",open")) == [(2, "work_order", "“W-1”", no_more)]
    as_stored = "“2026-09-20”, as stored; correct it on its page"
    assert found(orders("W-1,M-1,2026-09-21,1,C-1")) == [(2, "raised_on", "“2026-09-21” for W-1, 1", as_stored)]


def test_a_line_comes_once():
    load(pool_files())
    rows = ("W-1,M-1,2026-09-20,1,C-1", "w-1,M-1,2026-09-20,1,C-1")
    (error,) = found(orders(*rows))
    assert error[:2] == (3, "work_order") and "line 2 has W-1, 1" in error[3]


def test_a_cable_stands_on_one_open_order(keeper):
    load(pool_files())
    once = "a cable on one open order at a time;"
    rows = ("W-1,M-1,2026-09-20,1,C-1", "W-2,M-1,2026-09-21,1,C-1")
    in_file = f"{once} line 2: W-1; write no in open of the one that does not hold it"
    assert found(orders(*rows)) == [(3, "segment", "C-1 on W-2", in_file)]
    (order,) = raise_work_orders([CableSegment.objects.get(serial="C-1").pk], by=keeper, on=ON)
    stored = f"{once} stored already: {order}; withdraw that one first, or write no in open"
    assert found(orders(rows[0])) == [(2, "segment", "C-1 on W-1", stored)]
    withdraw_work_order(order, by=keeper, on=ON, reason="on paper")
    assert found(orders(rows[0])) == []


def test_a_cable_may_have_been_on_an_order_and_stand_on_another():
    """It came out, went back and was due again: the first line no longer holds it."""
    load(pool_files())
    load(orders("W-1,M-1,2026-09-20,1,C-1,no", "W-2,M-1,2026-09-21,1,C-1,", more=",open"))
    assert [(number, is_open) for number, _, _, is_open in lines()] == [("W-1", False), ("W-2", True)]


def test_an_order_may_come_with_its_mat_and_the_cables_in_it():
    load(pool_files(fittings=None, measurements=None, faults=None, notes=None, mats=None, segments=None, usage=None))
    rest = {name: pool_files()[name] for name in ("mats.csv", "segments.csv", "fittings.csv")}
    load(rest | orders("W-1,M-1,2026-09-20,1,c-1"))
    assert lines() == [("W-1", 1, "C-1", True)]


def test_where_cables_are_is_not_judged_while_their_file_cannot_be_read():
    load(pool_files())
    contents = {"fittings.csv": b"\xff\xfe\x00"} | orders("W-1,M-2,2026-09-20,1,C-3")
    assert {error.file for error in check_pool_files(contents, on=ON).errors.in_order()} == {"fittings.csv"}


def test_an_order_from_files_is_shown_and_says_that_its_sheet_was_not_kept(keeper_client, keeper):
    load(pool_files(**FULL), by=keeper)
    listed = keeper_client.get(reverse("inspections:work-order-list")).content.decode()
    assert listed.count("not recorded") == WorkOrder.objects.count()
    for order in WorkOrder.objects.all():
        page = keeper_client.get(order.get_absolute_url())
        text = " ".join(page.content.decode().split())
        assert page.status_code == 200
        assert f"Raised {order.raised_on:%-d %b %Y}, <b>from files, not as printed</b><br>" in text
        assert "Files hold no sheet." in text and "not recorded" in text
    assert {part["length_m"] for part in WorkOrder.objects.get(number="W-2025-001").sheet["parts"]} == {0.6, 1.1}


def test_an_order_that_was_worked_here_goes_out_and_comes_back(tmp_path, keeper):
    def exported(name):
        export_folder(tmp_path / name)
        return {path.name: path.read_bytes() for path in (tmp_path / name).iterdir()}

    with transaction.atomic():
        mat = make_plain_mat(make_plain_design(3), number="M-7", fitted=True)
        (order,) = raise_work_orders(mat.fittings.values_list("segment", flat=True), by=keeper, on=ON)
        first, second, _ = mat.fittings.order_by("position")
        changes = [
            Change(1, GoesIn(lot="L 9"), TakenOut(first, "worn", Disposition.AWAY), torque_nm=0.56, end_test="read"),
            Change(2, None, TakenOut(second, "crushed", Disposition.AWAY), remark="nothing fits"),
        ]
        told = {"by": keeper, "on": ON, "changed_on": ON, "confirmed": ""}
        answer_order(order, changes=changes, left={3: "=too late"}, **told)
        before = exported("before")
        transaction.set_rollback(True)
    assert not WorkOrder.objects.exists()
    load(before)
    assert exported("after") == before
    assert WorkOrder.objects.get().state_on(ON) == "signed off"
    assert CableSegment.objects.filter(serial_basis="given").count() == 1
    assert CableSegment.objects.exclude(withdrawn_on=None).count() == 2


def test_an_order_raised_here_does_not_say_so(keeper_client, keeper):
    (order,) = raise_work_orders(make_mat(fitted=True).fittings.values_list("segment", flat=True), by=keeper, on=ON)
    assert "not as printed" not in keeper_client.get(order.get_absolute_url()).content.decode()


@pytest.mark.parametrize(
    ("number", "following"),
    [
        ("W-2026-012", "W-2026-013"),
        ("w-2026-012", "W-2026-013"),
        ("W-2026-0012", "W-2026-013"),
        ("W-2026-mill", "W-2026-001"),
        ("W-2026-٣", "W-2026-001"),
        (f"W-2026-{'9' * 30}", "W-2026-001"),
        ("mill 7", "W-2026-001"),
    ],
)
def test_orders_raised_later_are_numbered_on_whatever_files_call_theirs(number, following, keeper):
    load(pool_files() | orders(f"{number},M-1,2026-01-20,1,C-1"))
    (order,) = raise_work_orders([CableSegment.objects.get(serial="C-1").pk], by=keeper, on=ON)
    assert order.number == following


def test_many_lines_ask_the_database_no_more_often_than_few():
    def queries(first, count):
        serials = [f"X-{first + n}" for n in range(count)]
        cables = "".join(f"{serial},thin,0.6\n" for serial in serials)
        days = [date(2000, 1, 1) + timedelta(days=first + n) for n in range(count)]
        rows = [f"W-{s},M-1,{day},1,{s},{day}" for s, day in zip(serials, days, strict=True)]
        contents = {"segments.csv": f"segment,cable_type,length_m\n{cables}".encode()}
        with CaptureQueriesContext(connection) as context:
            load(contents | orders(*rows, more=",done_on"))
        return len(context)

    load(pool_files())
    assert Mat.objects.count() == 2
    assert queries(0, 1) == queries(10, 3) == queries(100, 40)
