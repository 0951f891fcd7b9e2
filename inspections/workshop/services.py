"""Work orders: raised for segments, one per mat; withdrawn with a reason."""

from itertools import groupby

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Prefetch, prefetch_related_objects

from fleet.figures import short_day
from fleet.models import CableSegment, Fault, Fitting, Note
from fleet.services.locks import hold, hold_pool
from fleet.services.rows import withdraw_row

from ..assessment.pool_fits import stored_fit
from ..assessment.reasons import reasons
from ..assessment.services import assessments, with_related
from ..choices import OrderState
from ..models import WorkOrder, WorkOrderLine
from ..numeric.words import DUE
from .sheets import sheet_of

SHEETS_AT_ONCE = 200

CLOSED = {
    OrderState.SIGNED: "{order} was signed off on {day} by {order.signed_by} already.",
    OrderState.RENEWED: "{order} was renewed as {order.renewed_as}. What was done is told there.",
    OrderState.WITHDRAWN: "{order} was withdrawn on {day} already. Tell it on the mat’s page.",
}


@transaction.atomic
def raise_work_orders(segment_ids, *, by, on, given_to="", planned_on=None):
    """One work order per mat for these segments, numbered and stored as it will be printed; returns the orders.

    `given_to`, `planned_on`: who is to do it, and when.
    Refused when a segment stands on an order in force, with that order's number. An order that is out of date no longer
    holds its segments.
    """
    hold_pool()
    _check_planned(planned_on, on)
    ids = sorted(set(segment_ids))
    if not ids:
        raise ValidationError("Choose at least one cable.", code="empty")
    _free_or_refuse(ids, on)
    rows = _assessed(ids, on)
    numbers = _next_numbers(on.year)
    fittings = _fittings_by_mat({row.mat_id for row in rows}, on)
    remarks = _remarks_by_mat(fittings, on)
    given = {"given_to": given_to, "planned_on": planned_on, "recorded_by": by, "raised_on": on}
    by_order = []
    for mat, group in groupby(rows, key=lambda row: row.mat):
        changed = list(group)
        sheet = sheet_of(mat, changed, fittings[mat.pk], **remarks[mat.pk])
        by_order.append((WorkOrder(number=next(numbers), mat=mat, sheet=sheet, **given), changed))
    return _store(by_order)


def work_order_of_due(mat, *, by, on):
    """(order, raised): one raised for what is due in the mat and stands on no order; else its newest one in force."""
    fitted = Fitting.objects.in_service(on).filter(mat=mat).values_list("segment", flat=True)
    due = {row.segment_id for row in assessments(on, list(fitted), fitted=stored_fit()) if row.status in DUE}
    in_force = WorkOrder.objects.in_force(on).filter(mat=mat)
    free = due - set(WorkOrderLine.objects.open_in(in_force).values_list("segment", flat=True))
    if free:
        return raise_work_orders(free, by=by, on=on)[0], True
    newest = in_force.first()
    if newest is None:
        raise ValidationError(f"Nothing is due in {mat} on {short_day(on)}, and no work order is open.", code="not_due")
    return newest, False


@transaction.atomic
def renew_work_order(order, *, by, on, seen_version=None):
    """Raise an order with today's numbers for the lines still to do, and let the old one name it; returns the new one.

    Raises ValidationError for an order that is signed off, renewed or withdrawn, or has nothing to do.
    """
    hold_pool()
    order.refresh_from_db()
    refuse_closed(order, on)
    lines = WorkOrderLine.objects.open_in([order])
    segments = list(lines.values_list("segment", flat=True))
    if not segments:
        raise ValidationError(f"Nothing is left to do by {order}: sign it off.", code="done")
    lines.update(is_open=False)
    (renewed,) = raise_work_orders(segments, by=by, on=on, given_to=order.given_to)
    order.correct(by=by, reason="renewed", seen_version=seen_version, renewed_as=renewed)
    return renewed


@transaction.atomic
def give_work_order(order, *, by, on, given_to, planned_on, seen_version=None):
    """Say who does the work and on which day; either may stay open. Returns the order."""
    hold(order)
    refuse_closed(order, on)
    _check_planned(planned_on, order.raised_on)
    return order.correct(by=by, seen_version=seen_version, given_to=given_to, planned_on=planned_on)


def withdraw_work_order(order, *, by, on, reason, seen_version=None):
    """Withdraw an order: its segments are free for another. It stays in the list with the reason."""
    with transaction.atomic():
        hold(order)
        refuse_closed(order, on)
        withdraw_row(order, by=by, on=on, reason=reason, seen_version=seen_version)
        WorkOrderLine.objects.open_in([order]).update(is_open=False)
    return order


def refuse_closed(order, on):
    """ValidationError that says what became of an order which is not to be worked any more."""
    sentence = CLOSED.get(order.state_on(on))
    if sentence:
        day = short_day(order.signed_on or order.withdrawn_on)
        raise ValidationError(sentence.format(order=order, day=day), code="closed")


def _check_planned(planned_on, raised_on):
    if planned_on is not None and planned_on < raised_on:
        raise ValidationError({"planned_on": f"The order is of {short_day(raised_on)}: plan a later day."})


def _free_or_refuse(ids, on):
    lines = WorkOrderLine.objects.filter(segment__in=ids, is_open=True).select_related("work_order", "segment")
    in_force = set(WorkOrder.objects.in_force(on).filter(lines__in=lines))
    taken = [line for line in lines if line.work_order in in_force]
    if taken:
        raise ValidationError(
            [ValidationError(f"{line.segment} is on open work order {line.work_order} already.") for line in taken],
        )
    WorkOrderLine.objects.filter(pk__in=[line.pk for line in lines]).update(is_open=False)


def _assessed(ids, on):
    """The segments as assessed today, by mat and position; refused where one is in no mat in service."""
    rows = assessments(on, ids, fitted=stored_fit())
    missing = CableSegment.objects.filter(pk__in=set(ids) - {row.segment_id for row in rows})
    if missing or len(rows) < len(ids):
        serials = ", ".join(segment.serial for segment in missing) or "One of the cables"
        raise ValidationError(f"{serials}: not in a mat in service, so there is nothing to change.", code="not_fitted")
    with_related(rows, "segment", "mat", "before_event")
    prefetch_related_objects(rows, "segment__cable_type", "mat__depot", "mat__design__positions__cable_type")
    return sorted(rows, key=lambda row: (row.mat.number, row.position))


def make_sheets(orders, *, on):
    """Sheets for orders that came from files, which hold none: made from the register of that day."""
    lines = Prefetch("lines", WorkOrderLine.objects.select_related("segment__cable_type"))
    orders = orders.select_related("mat__depot", "mat__design")
    orders = list(orders.prefetch_related(lines, "mat__design__positions__cable_type"))
    fittings = _fittings_by_mat({order.mat_id for order in orders}, on)
    remarks = _remarks_by_mat(fittings, on)
    for order in orders:
        order.sheet = sheet_of(order.mat, order.lines.all(), fittings[order.mat_id], **remarks[order.mat_id])
    WorkOrder.objects.bulk_create(
        orders, update_conflicts=True, unique_fields=["id"], update_fields=["sheet"], batch_size=SHEETS_AT_ONCE
    )


def _next_numbers(year):
    number = WorkOrder.objects.highest_running(f"W-{year}-")
    while True:
        number += 1
        yield f"W-{year}-{number:03d}"


def _fittings_by_mat(mat_ids, on):
    found = {mat_id: [] for mat_id in mat_ids}
    for fitting in Fitting.objects.current(on).filter(mat__in=mat_ids).select_related("segment__cable_type"):
        found[fitting.mat_id].append(fitting)
    return found


def _remarks_by_mat(mat_ids, on):
    """{mat: its open notes and open faults}, as `sheet_of` takes them."""
    found = {mat_id: {"notes": [], "faults": []} for mat_id in mat_ids}
    for note in Note.objects.open().filter(mat__in=found):
        found[note.mat_id]["notes"].append(note)
    open_faults = Fault.objects.open_on(on).filter(mat__in=found).prefetch_related("photos")
    for fault in open_faults.order_by("reported_on", "number"):
        found[fault.mat_id]["faults"].append(fault)
    return found


def _store(by_order):
    """Insert the orders with a line for each of their assessed rows; as many queries for one as for a depot."""
    orders = [order for order, _ in by_order]
    for order in orders:
        # what it refers to was read from the database
        order.clean_fields(exclude=("mat", "recorded_by"))
    WorkOrder.objects.bulk_create(orders, batch_size=SHEETS_AT_ONCE)
    WorkOrderLine.objects.bulk_create(
        WorkOrderLine(
            work_order=order,
            segment=row.segment,
            position=row.position,
            reasons=[reason.as_json() for reason in reasons(row)],
        )
        for order, rows in by_order
        for row in rows
    )
    return orders
