"""Which segment is in which position: fitted, taken out, moved, corrected. Each is one act in one transaction."""

from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import Disposition, FaultEnd, FittedBasis
from ..models import CableSegment, Fault, Fitting, Mat
from ..selectors.faults import faults_it_came_out_with, open_faults_of_segment
from ..signals import wear_changed
from .confirmation import WantsConfirmation, weighed
from .locks import hold, hold_all
from .races import race_refused
from .rows import check_day, withdraw_row
from .start_here import ASSUMED_CABLE

# of the position's length: what a cable cut to size may be off
MOST_OFF = 0.1


@dataclass(frozen=True)
class TakenOut:
    """The fitting, and which version of it, that the person saw; why its segment comes out, and where it goes."""

    fitting: Fitting
    reason: str
    goes: str = Disposition.SHELF
    seen_version: int | None = None


@dataclass(frozen=True)
class Fitted:
    """What the act did; `remarks` are sentences to show: nothing was refused, but somebody should know."""

    fitting: Fitting
    taken_out: CableSegment | None = None
    moved_from: Fitting | None = None
    ended_faults: int = 0
    remarks: tuple[str, ...] = ()


class DiffersFromPosition(WantsConfirmation):
    """A cable of a length or type that its position is not meant for. This can be right: confirmed, it is fitted."""

    def __init__(self, mat, position, sentences):
        message = "This is not the cable that the position is for. Choose another, or say that it is meant."
        super().__init__(
            message, "differs", [f"{mat} {position}", *sentences], points=sentences, tick="It is meant: fit it"
        )


def fit_segment(
    segment,
    mat,
    position,
    *,
    by,
    on,
    fitted_on,
    basis=FittedBasis.KNOWN,
    out=None,
    move=False,
    moves=None,
    confirmed=None,
):
    """Fit a segment into a position; returns what that did as `Fitted`.

    An occupied position needs `out`: the old segment comes out on the same day, for its reason. Open faults of the
    cable or connector in that position end with *change* on that day. A segment that is in place elsewhere is taken
    out there with `move=True`, if `moves` is that fitting or None; its past stays.
    Raises DiffersFromPosition where its length differs from the position's by more than a tenth, or its type does and
    both are known; where `confirmed` is None nobody is there to be asked, and that is a remark, as other differences.
    Raises ValidationError: a day ahead, a position that the design lacks, a withdrawn mat or segment, a segment with an
    open fault, fittings that would overlap, and a position or segment that somebody else changed meanwhile.
    """
    with race_refused(_changed_meanwhile(mat, position)):
        _hold_places(segment, mat, out)
        specified = _check_may_fit(segment, mat, position, fitted_on, on)
        taken_out = _occupant(mat, position, fitted_on, out)
        remarks = list(_past_damage(segment))
        if taken_out:
            remarks += _take_out(taken_out, fitted_on, out.reason, out.goes, by, on, out.seen_version)
        moved_from = _free_segment(segment, mat, position, fitted_on, by, move, moves)
        ended = _end_faults(mat, position, fitted_on, by)
        fitting = Fitting(
            segment=segment,
            mat=mat,
            position=position,
            fitted_on=fitted_on,
            fitted_basis=basis,
            ended=taken_out,
            recorded_by=by,
        )
        fitting.full_clean()
        # after all that would refuse it: nobody is asked about what cannot be
        remarks[:0] = _differences(segment, mat, specified, confirmed)
        fitting.save()
        old = taken_out and taken_out.segment
        _notify_wear([segment, old], on)
    return Fitted(fitting, old, moved_from, ended, tuple(remarks))


def take_out(fitting, *, by, on, removed_on, reason, goes=Disposition.SHELF, seen_version=None):
    """Take a segment out; the position stays empty, which holds the mat back. Returns `Fitted` with the remarks."""
    with transaction.atomic():
        check_day("removed_on", removed_on, on, "day it came out")
        hold(fitting.segment, fitting.mat, fitting)
        remarks = _take_out(fitting, removed_on, reason, goes, by, on, seen_version)
        ended = _end_faults(fitting.mat, fitting.position, removed_on, by)
        _notify_wear([fitting.segment], on)
    return Fitted(fitting, fitting.segment, None, ended, tuple(remarks))


def correct_fitting(fitting, *, by, on, reason="", seen_version=None, confirmed=None, **values):
    """Correct the days, the basis or the cause of a fitting.

    Raises ValidationError where it would overlap another, or outlast its segment or position; WantsConfirmation where
    much follows for other cables; `confirmed` as in `weighed`.
    """
    with race_refused(_changed_meanwhile(fitting.mat, fitting.position)):
        hold(fitting.segment, fitting.mat, fitting)
        fitted_on = values.get("fitted_on", fitting.fitted_on)
        removed_on = values.get("removed_on", fitting.removed_on)
        check_day("fitted_on", fitted_on, on, "day of fitting")
        check_day("removed_on", removed_on, on, "day it came out")
        if removed_on is not None and removed_on < fitted_on:
            raise ValidationError({"removed_on": "It was taken out before it was fitted. Correct one of the days."})
        others = Fitting.objects.exclude(pk=fitting.pk).overlapping(fitted_on, removed_on)
        _refuse_overlap(others.filter(segment=fitting.segment) | others.filter(**_place_of(fitting)))
        if removed_on != fitting.removed_on:
            _check_may_stay(fitting, removed_on)
        with weighed(fitting.segment, on=on, confirmed=confirmed):
            fitting.correct(by=by, reason=reason, seen_version=seen_version, **values)
        _notify_wear([fitting.segment], on)
    return fitting


def _check_may_stay(fitting, removed_on):
    """Until that day, or on, in a position that is there, and not after its segment was withdrawn."""
    withdrawn_on = fitting.segment.withdrawn_on
    if withdrawn_on is not None and (removed_on is None or removed_on > withdrawn_on):
        sentence = f"{fitting.segment} was withdrawn on {withdrawn_on:%Y-%m-%d}: it came out by then."
        raise ValidationError({"removed_on": f"{sentence} Take it back into use first, where it did not."})
    if removed_on is None and not fitting.mat.design.positions.filter(number=fitting.position).exists():
        sentence = (
            f"{fitting.mat.at_start} has no position {fitting.position} any more: its design is {fitting.mat.design}."
        )
        raise ValidationError({"removed_on": f"{sentence} Write the day it came out."})


def _hold_places(segment, mat, out):
    """The segments that go in and out, then every mat that the first was ever in: its faults are reported there."""
    hold(segment, out and out.fitting.segment)
    hold_all(Mat.objects.filter(pk__in=[mat.pk, *segment.fittings.values_list("mat", flat=True)]))
    hold(mat)


def _check_may_fit(segment, mat, position, fitted_on, on):
    """The position of the design that it goes into."""
    check_day("fitted_on", fitted_on, on, "day of fitting")
    specified = mat.design.positions.select_related("cable_type").filter(number=position).first()
    if specified is None:
        raise ValidationError(
            f"{mat.at_start} has no position {position}: its design {mat.design} has no such position."
        )
    for row, field in ((mat, None), (segment, "segment")):
        if row.withdrawn_on is not None:
            why = row.withdrawal_reason or "no reason given"
            sentence = f"{row.at_start} was withdrawn on {row.withdrawn_on:%Y-%m-%d}: {why}."
            raise ValidationError({field: sentence} if field else sentence)
    faults = list(open_faults_of_segment(segment, fitted_on))
    if faults:
        raise ValidationError({"segment": f"{segment} has an open fault: {faults[0]}. Close that first."})
    return specified


def _differences(segment, mat, specified, confirmed):
    """Remarks on what is not as the position asks; what is asked about needs no remark beside it."""
    much, little = [], []
    off_m = abs(segment.length_m - specified.length_m)
    if off_m:
        lengths = f"{segment} is {segment.length_m:g} m long, its position is for {specified.length_m:g} m."
        differs = much if off_m > MOST_OFF * specified.length_m else little
        differs.append(f"{lengths} Its own length counts.")
    if segment.cable_type_id != specified.cable_type_id:
        differs = little if ASSUMED_CABLE in (segment.cable_type.name, specified.cable_type.name) else much
        differs.append(f"{segment} is cut from {segment.cable_type}, its position is for {specified.cable_type}.")
    if confirmed is None:
        return much + little
    if much:
        DiffersFromPosition(mat, specified.number, much).raise_unless(confirmed)
    return little


def _past_damage(segment):
    for fault in faults_it_came_out_with(segment):
        yield f"{segment} was once taken out with a fault ({fault}): look at it before it goes out."


def _occupant(mat, position, fitted_on, out):
    """The fitting that has to end on that day, which must be the one the person saw; None: the position is free."""
    existing = list(
        Fitting.objects.filter(mat=mat, position=position).overlapping(fitted_on, None).select_related("segment", "mat")
    )
    occupant = existing[0] if len(existing) == 1 and existing[0].removed_on is None else None
    if not existing and out is not None:
        raise ValidationError(f"Position {position} of {mat} is empty now. Look at it again.", code="changed")
    if not existing:
        return None
    if occupant is None or occupant.fitted_on > fitted_on:
        _refuse_overlap(Fitting.objects.filter(pk__in=[fitting.pk for fitting in existing]))
    if out is None or out.fitting.pk != occupant.pk:
        raise ValidationError(
            f"Position {position} of {mat} holds {occupant.segment}, there since {occupant.since}: "
            "say why it comes out and where it goes.",
            code="occupied",
        )
    return occupant


def _take_out(fitting, day, reason, goes, by, on, seen_version=None):
    """End the fitting and put its segment away; the remarks on it."""
    segment = fitting.segment
    faults = open_faults_of_segment(segment, day)
    _close(fitting, day, reason, by, seen_version)
    if goes == Disposition.AWAY:
        withdraw_row(segment, by=by, on=on, reason=reason, withdrawn_on=day)
        return []
    return [
        f"{segment} goes to the shelf with a fault ({fault}): look at it before it is fitted again." for fault in faults
    ]


def _close(fitting, removed_on, reason, by, seen_version=None):
    if not reason.strip():
        raise ValidationError({"reason": "Say why it is taken out."})
    if fitting.removed_on is not None:
        raise ValidationError(f"{fitting.segment} was taken out on {fitting.removed_on:%Y-%m-%d} already.")
    if removed_on < fitting.fitted_on:
        raise ValidationError({"removed_on": f"It has been there since {fitting.since}: write a day from then on."})
    reason = reason.strip()
    fitting.correct(by=by, reason=reason, seen_version=seen_version, removed_on=removed_on, removal_reason=reason)


def _free_segment(segment, mat, position, fitted_on, by, move, moves):
    """Take the segment out of where it is, if it is somewhere; the fitting that this ended, or None."""
    if segment.fittings.filter(fitted_on=fitted_on).exists():
        same_day = segment.fittings.select_related("mat").get(fitted_on=fitted_on)
        raise ValidationError(
            {"segment": f"{segment} was fitted in {same_day.mat} position {same_day.position} on the same day. "
                        "Correct that fitting instead."}
        )  # fmt: skip
    existing = list(segment.fittings.select_related("mat").overlapping(fitted_on, None))
    if not existing:
        return None
    place = existing[0]
    if len(existing) > 1 or place.removed_on is not None or place.fitted_on > fitted_on:
        _refuse_overlap(segment.fittings.filter(pk__in=[fitting.pk for fitting in existing]))
    if not move or moves not in (None, place.pk):
        raise ValidationError(
            {"segment": f"{segment} is in {place.mat} position {place.position} since {place.since}. "
                        "Tick “Move it”, or choose another cable."}
        )  # fmt: skip
    _close(place, fitted_on, f"moved to {mat} position {position}", by)
    return place


def _end_faults(mat, position, day, by):
    """Open faults of the cable or connector there, reported by that day, end with *change*."""
    faults = list(Fault.objects.open_on(day).of_cables().filter(mat=mat, position=position))
    for fault in faults:
        fault.correct(by=by, reason="the cable was changed", ended_on=day, end_reason=FaultEnd.CHANGE)
    return len(faults)


def _place_of(fitting):
    return {"mat": fitting.mat, "position": fitting.position}


def _refuse_overlap(fittings):
    first = fittings.select_related("segment", "mat").order_by("fitted_on").first()
    if first:
        until = f"to {first.removed_on:%Y-%m-%d}" if first.removed_on else "on"
        raise ValidationError(
            f"{first.segment} was in {first.mat} position {first.position} from {first.since} {until}: "
            "a position holds one cable at a time, a cable is in one place. Choose another day, or correct that one."
        )


def _changed_meanwhile(mat, position):
    return f"Somebody else has just changed position {position} of {mat}, or this cable. Look again."


def _notify_wear(segments, on):
    wear_changed.send(Fitting, segment_ids=[segment.pk for segment in segments if segment], on=on)
