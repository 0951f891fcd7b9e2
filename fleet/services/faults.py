"""Faults of a mat: reported, ended, corrected."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max

from ..choices import CABLE_PLACES, FaultEnd, FaultPlace, ends_of
from ..figures import short_day
from ..models import Fault, Fitting
from ..signals import wear_changed
from .locks import hold
from .photos import add_photos
from .rows import check_day


@transaction.atomic
def report_fault(mat, *, by, on, place, reported_on, what="", position=None, photos=()):
    """A fault of a cable or connector makes its segment due; any other holds the mat back until it is ended.

    `photos`: as `parsing.photos` makes them.
    """
    hold(mat)
    _check(mat, place, position, reported_on, on)
    values = {"place": place, "reported_on": reported_on, "what": what, "position": position}
    fault = Fault(mat=mat, number=_next_number(mat, reported_on), recorded_by=by, **values)
    fault.full_clean()
    fault.save()
    add_photos(fault, photos, by=by)
    _notify_wear(fault, on)
    return fault


@transaction.atomic
def end_fault(fault, *, by, on, ended_on, end_reason, reason="", seen_version=None):
    """Changed, repaired, dried, or looked at and nothing found; over from that day on.

    Raises ValidationError when the fault of a cable or connector is said to have dried, and when a cable is said to be
    changed that is still the one in the position: fitting the new one ends the fault.
    """
    check_day("ended_on", ended_on, on, "day it ended")
    hold(fault.mat, fault)
    if fault.ended_on is not None:
        raise ValidationError(f"This fault was closed on {short_day(fault.ended_on)} already: {fault.end_reason}.")
    if ended_on < fault.reported_on:
        raise ValidationError(
            {"ended_on": f"It was reported on {short_day(fault.reported_on)} and closed before that."}
        )
    _check_may_end_by(fault.place, end_reason)
    if end_reason == FaultEnd.CHANGE:
        _check_was_changed(fault)
    fault.correct(by=by, reason=reason, seen_version=seen_version, ended_on=ended_on, end_reason=end_reason)
    _notify_wear(fault, on)
    return fault


@transaction.atomic
def correct_fault(fault, *, by, on, reason="", seen_version=None, **values):
    """What was seen, where, when; also that it has not ended after all (no day and no reason of its end)."""
    hold(fault.mat, fault)
    before = _segments_of(fault)
    _check(
        fault.mat,
        values.get("place", fault.place),
        values.get("position", fault.position),
        values.get("reported_on", fault.reported_on),
        on,
    )
    _check_end(values, fault, on)
    if values.get("reported_on", fault.reported_on) != fault.reported_on:
        values["number"] = _next_number(fault.mat, values["reported_on"])
    fault.correct(by=by, reason=reason, seen_version=seen_version, **values)
    wear_changed.send(Fault, segment_ids=before | _segments_of(fault), on=on)
    return fault


def _check(mat, place, position, reported_on, on):
    check_day("reported_on", reported_on, on, "day of the report")
    if position is None:
        if place in CABLE_PLACES:
            raise ValidationError({"position": "Say which position: this is the fault of one cable."})
        return
    if place == FaultPlace.ONE_OF_CABLES:
        raise ValidationError({"position": "Leave the position empty, or say “cable”: its position is known then."})
    if place in CABLE_PLACES and not Fitting.objects.current(reported_on).filter(mat=mat, position=position).exists():
        raise ValidationError({"position": f"Position {position} of {mat} held no cable on {short_day(reported_on)}."})
    if not mat.design.positions.filter(number=position).exists() and place not in CABLE_PLACES:
        raise ValidationError({"position": f"{mat.at_start} has no position {position}."})


def _check_end(values, fault, on):
    ended_on = values.get("ended_on", fault.ended_on)
    end_reason = values.get("end_reason", fault.end_reason)
    check_day("ended_on", ended_on, on, "day it ended")
    _check_may_end_by(values.get("place", fault.place), end_reason)
    if (ended_on is None) != (not end_reason):
        raise ValidationError({"ended_on": "A closed fault has a day and a reason: write both, or neither."})
    if ended_on is not None and ended_on < values.get("reported_on", fault.reported_on):
        raise ValidationError({"ended_on": "It was closed before it was reported. Correct one of the days."})


def _check_may_end_by(place, end_reason):
    if end_reason == FaultEnd.DRIED and end_reason not in ends_of(place):
        sentence = f"A {place} is not mended by drying. Say how it was closed: {', '.join(ends_of(place))}."
        raise ValidationError({"end_reason": sentence})


def _check_was_changed(fault):
    if not fault.is_of_cable:
        return
    since = fault.mat.fittings.filter(position=fault.position, fitted_on__gte=fault.reported_on)
    if not since.exists():
        raise ValidationError(
            {"end_reason": f"Position {fault.position} still holds the cable that this fault was reported for. "
                              "Fit the new one: that closes this fault."}
        )  # fmt: skip


def _next_number(mat, day):
    newest = Fault.objects.filter(mat=mat, reported_on=day).aggregate(newest=Max("number"))["newest"]
    return (newest or 0) + 1


def _segments_of(fault):
    """Segments that were in its position from the report on; none for a fault that is not a cable's."""
    if not fault.is_of_cable:
        return set()
    fittings = fault.mat.fittings.filter(position=fault.position).overlapping(fault.reported_on, None)
    return set(fittings.values_list("segment", flat=True))


def _notify_wear(fault, on):
    wear_changed.send(Fault, segment_ids=_segments_of(fault), on=on)
