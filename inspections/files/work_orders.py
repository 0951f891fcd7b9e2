"""work_orders.csv: one row for each line of an order, which tells of its order what every line of it tells."""

from fleet.intake import Column, Layout, refuse_early_ends, refuse_reason_without_day
from fleet.intake.files import FITTINGS, MATS, SEGMENTS
from fleet.models import Fitting
from fleet.models.mats import mat_name

from ..models import WorkOrder, WorkOrderLine

WORK_ORDERS = Layout(
    "work_orders.csv",
    WorkOrderLine,
    (
        Column("work_order", "work_order__number", key=True, needed=True),
        Column("mat", "work_order__mat__number", needed=True, refers_to=MATS.file),
        Column("raised_on", "work_order__raised_on", needed=True, past="day of raising"),
        Column("position", "position", key=True, needed=True, lowest=1),
        Column("segment", "segment__serial", needed=True, refers_to=SEGMENTS.file),
        Column("done_on", "done_on", past="day it was done"),
        Column("new_segment", "new_segment__serial", refers_to=SEGMENTS.file),
        Column("left_reason", "left_reason"),
        Column("by", "answered_by"),
        Column("open", "is_open", derived=True),
        Column("given_to", "work_order__given_to"),
        Column("planned_on", "work_order__planned_on"),
        Column("signed_on", "work_order__signed_on", past="day of signing off"),
        Column("signed_by", "work_order__signed_by"),
        Column("renewed_as", "work_order__renewed_as__number", refers_to="work_orders.csv"),
        Column("withdrawn_on", "work_order__withdrawn_on", past="day of withdrawing"),
        Column("withdrawal_reason", "work_order__withdrawal_reason"),
    ),
    head="work_order",
    stays=True,
)
# what closes a line
ENDS = {
    "done_on": "it was done on",
    "left_reason": "it was left:",
    "signed_on": "the order was signed off on",
    "renewed_as": "the order was renewed as",
    "withdrawn_on": "the order was withdrawn on",
}
WAY_OUT = "where it came out, write when in done_on, why it was left in left_reason, or no in open"


def check_work_orders(files):
    """A line has one answer, and an open one holds a cable that is in its position and on no other open order."""
    table = files.table(WORK_ORDERS.file)
    if table is None:
        return
    refuse_early_ends(files, table, "raised_on", "withdrawn_on")
    refuse_early_ends(files, table, "raised_on", "signed_on")
    refuse_reason_without_day(files, table)
    _refuse_two_answers(files, table)
    _refuse_two_ends(files, table)
    _refuse_odd_renewals(files, table)
    _settle_open(files, table)
    if files.can_follow(FITTINGS.file):
        _refuse_open_elsewhere(files, table)
    _refuse_open_twice(files, table)


def _refuse_two_answers(files, table):
    for row, done_on, new_segment, left in list(table.rows("done_on", "new_segment", "left_reason")):
        if done_on is not None and left:
            table.refuse(files.errors, row, "left_reason", f"“{left}”", f"an empty cell: it was done on {done_on}")
        if done_on is None and new_segment is not None:
            expected = f"the day on which {new_segment} went in, or an empty new_segment"
            table.refuse(files.errors, row, "done_on", "an empty cell", expected)


def _refuse_two_ends(files, table):
    """An order that is signed off was neither withdrawn nor renewed."""
    for row, signed_on, signed_by, withdrawn_on, renewed_as in list(
        table.rows("signed_on", "signed_by", "withdrawn_on", "renewed_as")
    ):
        if signed_on is None and signed_by:
            expected = f"the day on which {signed_by} signed it off, or an empty signed_by"
            table.refuse(files.errors, row, "signed_on", "an empty cell", expected)
        if signed_on is not None and (withdrawn_on or renewed_as):
            ended = f"withdrawn on {withdrawn_on}" if withdrawn_on else f"renewed as {renewed_as}"
            expected = f"an empty cell: the order was {ended}, and only one of both can be"
            table.refuse(files.errors, row, "signed_on", f"“{signed_on}”", expected)


def _refuse_odd_renewals(files, table):
    """An order is renewed as a later one of its mat, and that one renews no other."""
    if all(renewed_as is None for _, renewed_as in table.rows("renewed_as")):
        return
    orders, renews = _orders(files, table), _stored_renewals()
    names = ("work_order", "mat", "raised_on", "renewed_as")
    for row, order, mat, raised_on, renewed_as in list(table.rows(*names)):
        if renewed_as is None or renewed_as not in orders:
            continue
        new_mat, new_day = orders[renewed_as]
        other = renews.setdefault(renewed_as, order)
        expected = ""
        if renewed_as == order or new_day < raised_on:
            expected = f"an order that was raised after {order}, {raised_on}"
        elif new_mat != mat:
            expected = f"an order for {mat_name(mat)}; {renewed_as} is for {mat_name(new_mat)}"
        elif other != order:
            expected = f"an order that renews one; {renewed_as} renews {other}"
        if expected:
            table.refuse(files.errors, row, "renewed_as", f"“{renewed_as}”", expected)


def _orders(files, table):
    """{order: (its mat, the day it was raised)} of the database and the file."""
    stored = WorkOrder.objects.order_by().values_list("number", "mat__number", "raised_on")
    in_file = (row[1:] for row in table.rows("work_order", "mat", "raised_on"))
    return {order: tuple(rest) for order, *rest in (*stored, *in_file)}


def _stored_renewals():
    """{order: the one that it renews}"""
    stored = WorkOrder.objects.exclude(renewed_as=None).order_by()
    return dict(stored.values_list("renewed_as__number", "number"))


def _settle_open(files, table):
    """Where `open` is empty: a line without an answer, of an order that is in force."""
    for row, raised_on, is_open, *ends in list(table.rows("raised_on", "open", *ENDS)):
        end = next((f"{ENDS[name]} {value}" for name, value in zip(ENDS, ends, strict=True) if value), "")
        if is_open is None:
            table.values["open"][row] = not end and WorkOrder(raised_on=raised_on).valid_until >= files.on
        elif is_open and end:
            table.refuse(files.errors, row, "open", "“yes”", f"no: {end}")


def _open_lines(table):
    """(row, order, mat, position, segment) of the new lines that are open."""
    names = ("work_order", "mat", "position", "segment", "open")
    new = (line for line in table.rows(*names) if not table.existing[line[0]])
    return [line for *line, is_open in new if is_open]


def _refuse_open_elsewhere(files, table):
    place_of = _places(files)
    for row, _, mat, position, segment in _open_lines(table):
        if place_of.get(segment) != (mat, position):
            found = f"{segment} in {mat_name(mat)} position {position}"
            expected = f"the cable that is there; {segment} is {_where(place_of.get(segment))}; {WAY_OUT}"
            table.refuse(files.errors, row, "segment", found, expected)


def _where(place):
    return f"in {mat_name(place[0])} position {place[1]}" if place else "in no mat"


def _places(files):
    """{segment: (mat, position)} of all that is in place, by the database and by the file."""
    stored = Fitting.objects.filter(removed_on=None).order_by()
    places = {
        segment: (mat, position)
        for segment, mat, position in stored.values_list("segment__serial", "mat__number", "position")
    }
    table = files.table(FITTINGS.file)
    if table is not None:
        rows = table.rows("segment", "mat", "position", "removed_on")
        places |= {segment: (mat, position) for _, segment, mat, position, removed_on in rows if removed_on is None}
    return places


def _refuse_open_twice(files, table):
    stored = WorkOrderLine.objects.filter(is_open=True).order_by()
    held = {
        segment: f"stored already: {order}; withdraw that one first, or write no in open"
        for segment, order in stored.values_list("segment__serial", "work_order__number")
    }
    for row, order, _, _, segment in _open_lines(table):
        if segment in held:
            found = f"{segment} on {order}"
            table.refuse(files.errors, row, "segment", found, f"a cable on one open order at a time; {held[segment]}")
        held.setdefault(segment, f"line {table.lines[row]}: {order}; write no in open of the one that does not hold it")
