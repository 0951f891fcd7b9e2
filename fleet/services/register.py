"""Mats, cable segments, cable types and depots: what the register knows of them."""

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import StockReason
from ..figures import short_day
from ..models import CableSegment, CableType, Depot, Fitting, Mat, UsageEvent
from ..signals import wear_changed
from .arrivals import NEW, come_to_shelf
from .confirmation import weighed
from .locks import hold
from .rows import add_row, check_day, correct_row, return_row, withdraw_row
from .shelf_of_segments import Told, follow_register


def add_depot(*, by, **values):
    return add_row(Depot, by=by, **values)


def add_cable_type(*, by, **values):
    return add_row(CableType, by=by, **values)


@transaction.atomic
def add_segment(*, by, on, arrival=NEW, **values):
    """A cable with a serial, on the shelf from now on. ValidationError as `come_to_shelf` of its arrival says."""
    taken = arrival.pile_of(**values)
    if taken and not values.get("lot"):
        values["lot"] = taken.lot
    segment = add_row(CableSegment, by=by, **values)
    come_to_shelf(segment, arrival, taken, by=by, on=on)
    return segment


def segment_for(place, **values):
    """What a new segment that is built as a position of a design asks is added with."""
    built = {"cable_type": place.cable_type, "length_m": place.length_m, "length_basis": place.length_basis}
    return built | values


def add_mat(*, by, on, **values):
    check_day("acquired_on", values.get("acquired_on"), on, "day it was acquired")
    return add_row(Mat, by=by, **values)


@transaction.atomic
def correct_plain(row, *, by, reason="", seen_version=None, **values):
    """Correct a depot or a cable type: nothing that is due depends on them."""
    return correct_row(row, by=by, reason=reason, seen_version=seen_version, **values)


@transaction.atomic
def correct_segment(segment, *, by, on, reason="", seen_version=None, confirmed=None, **values):
    """Raises WantsConfirmation where much follows for other cables; `confirmed` as in `weighed`."""
    hold(segment)
    with weighed(segment, on=on, confirmed=confirmed):
        correct_row(segment, by=by, reason=reason, seen_version=seen_version, **values)
    follow_register([segment.pk], by=by, on=on)
    wear_changed.send(CableSegment, segment_ids=[segment.pk], on=on)
    return segment


@transaction.atomic
def correct_mat(mat, *, by, on, reason="", seen_version=None, **values):
    """A changed design or depot changes what its cables are judged by.

    Raises ValidationError when a position that holds a cable is lacking in the new design.
    """
    check_day("acquired_on", values.get("acquired_on"), on, "day it was acquired")
    # with its design held, no position of it is deleted meanwhile
    hold(mat, values.get("design"))
    if "design" in values and values["design"] != mat.design:
        _check_positions(mat, values["design"])
    correct_row(mat, by=by, reason=reason, seen_version=seen_version, **values)
    _notify_wear(mat, on)
    return mat


def _check_positions(mat, design):
    held = set(mat.fittings.filter(removed_on=None).values_list("position", flat=True))
    lacking = sorted(held - set(design.positions.values_list("number", flat=True)))
    if lacking:
        named = ", ".join(map(str, lacking))
        raise ValidationError({"design": f"{design} has no position {named}, which holds a cable. Take it out first."})


@transaction.atomic
def withdraw_plain(row, *, by, on, reason, withdrawn_on=None, seen_version=None):
    """Withdraw a depot, a cable type, a mat design or an instrument: offered no longer; what uses it keeps it."""
    return withdraw_row(row, by=by, on=on, reason=reason, withdrawn_on=withdrawn_on, seen_version=seen_version)


@transaction.atomic
def withdraw_segment(segment, *, by, on, reason, withdrawn_on=None, seen_version=None):
    """Throw a cable away. One that is fitted has to be taken out first; taking out can do both."""
    hold(segment)
    day = withdrawn_on or on
    fitting = segment.fittings.overlapping(day, None).select_related("mat").first()
    if fitting:
        raise ValidationError(
            f"{segment} is in {fitting.mat} position {fitting.position} on {short_day(day)}. Take it out there first."
        )
    withdraw_row(segment, by=by, on=on, reason=reason, withdrawn_on=withdrawn_on, seen_version=seen_version)
    follow_register([segment.pk], by=by, on=on, told=Told(note=reason.strip()))
    return segment


@transaction.atomic
def withdraw_mat(mat, *, by, on, reason, withdrawn_on=None, seen_version=None):
    """Out of service; its cables stay in it and are assessed no longer.

    Raises ValidationError when it is planned for, or went to, an event that begins on that day or later.
    """
    hold(mat)
    day = withdrawn_on or on
    used = UsageEvent.objects.used_from(day).filter(mat=mat).select_related("event").order_by("event__starts_on")
    if used:
        named = ", ".join(f"{row.event} ({row.state})" for row in used[:5])
        raise ValidationError(
            f"{mat.at_start} has events on {short_day(day)} or later: {named}. Call it off there first."
        )
    withdraw_row(mat, by=by, on=on, reason=reason, withdrawn_on=withdrawn_on, seen_version=seen_version)
    _notify_wear(mat, on)
    return mat


@transaction.atomic
def return_to_use(row, *, by, on, reason="", seen_version=None):
    """Any of them: in use again."""
    return_row(row, by=by, reason=reason, seen_version=seen_version)
    if isinstance(row, CableSegment):
        told = Told(reason=StockReason.RETURNED, note=reason or "taken back into use")
        follow_register([row.pk], by=by, on=on, told=told)
    if isinstance(row, Mat):
        _notify_wear(row, on)
    return row


def _notify_wear(mat, on):
    fitted = Fitting.objects.current(on).filter(mat=mat).values_list("segment", flat=True)
    wear_changed.send(Mat, segment_ids=list(fitted), on=on)
