"""Which segment is in which position: fitted, taken out, moved, corrected. Each is one act in one transaction."""

from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import Disposition, FaultEnd, FittedBasis
from ..figures import short_day
from ..models import CableSegment, Fault, Fitting, Mat
from ..selectors.faults import open_faults_of_segment
from ..signals import wear_changed
from .confirmation import weighed
from .fitting_checks import check_may_fit, differences, past_damage, refuse_twice
from .locks import hold, hold_all
from .races import race_refused
from .rows import check_day, withdraw_row
from .shelf_of_segments import Told, follow_register


@dataclass(frozen=True)
class TakenOut:
    """The fitting, and which version of it, that the person saw; why its segment comes out, and where it goes."""

    fitting: Fitting
    reason: str
    goes: str = Disposition.SHELF
    seen_version: int | None = None


@dataclass(frozen=True)
class Fit:
    """A segment and the position that it goes into; `segment` None: what is there comes out, and it stays empty.

    An occupied position needs `out`. A segment that is in place elsewhere is taken out there with `move`, if `moves` is
    that fitting or None; its past stays. The rest is kept with the fitting.
    """

    position: int
    segment: CableSegment | None
    out: TakenOut | None = None
    move: bool = False
    moves: int | None = None
    torque_nm: float | None = None
    end_test: str = ""
    remark: str = ""


@dataclass(frozen=True)
class Fitted:
    """What the act did; `remarks` are sentences to show: nothing was refused, but somebody should know."""

    fitting: Fitting
    taken_out: CableSegment | None = None
    moved_from: Fitting | None = None
    ended_faults: int = 0
    remarks: tuple[str, ...] = ()


def fit_segment(segment, mat, position, *, by, on, fitted_on, basis=FittedBasis.KNOWN, confirmed=None, **fit):
    """Fit one segment into one position, as `fit_segments` does; `fit`: what else a `Fit` says. Returns `Fitted`."""
    given = {"by": by, "on": on, "fitted_on": fitted_on, "basis": basis, "confirmed": confirmed}
    return fit_segments(mat, [Fit(position, segment, **fit)], **given)[0]


def fit_segments(mat, fits, *, by, on, fitted_on, basis=FittedBasis.KNOWN, confirmed=None, work_order=""):
    """Change positions of one mat on one day, all or none; returns what each did as `Fitted`, in order.

    Old segments come out first, for their reasons, so that cables may change places. Open faults of the cables and
    connectors in these positions end with *change* on that day. What leaves the shelf and comes to it stands in the
    ledger, with the number of the `work_order`.
    Raises DiffersFromPosition where a length differs from its position's by more than a tenth, or a type does and
    both are known; where `confirmed` is None nobody is there to be asked, and that is a remark, as other differences.
    Raises ValidationError: a day ahead, a position that the design lacks, a withdrawn mat or segment, a segment with an
    open fault, fittings that would overlap, and a position or segment that somebody else changed meanwhile.
    """
    going_in = [fit.segment for fit in fits if fit.segment]
    with race_refused(_changed_meanwhile(mat, *(fit.position for fit in fits))):
        _hold_places(mat, fits)
        check_day("fitted_on", fitted_on, on, "day of fitting")
        refuse_twice(going_in)
        specified = [fit.segment and check_may_fit(fit.segment, mat, fit.position, fitted_on) for fit in fits]
        past = [list(past_damage(fit.segment)) if fit.segment else [] for fit in fits]
        cleared = [_clear(mat, fit, going_in, fitted_on, by, on) for fit in fits]
        ended = [_end_faults(mat, fit.position, fitted_on, by) for fit in fits]
        moved = [fit.segment and _free_segment(mat, fit, fitted_on, by) for fit in fits]
        within = {old.segment_id: old for old, _ in cleared if old}
        rows = [
            fit.segment and _new_fitting(mat, fit, old, place or within.get(fit.segment.pk), fitted_on, basis, by)
            for fit, (old, _), place in zip(fits, cleared, moved, strict=True)
        ]
        # after all that would refuse it: nobody is asked about what cannot be
        differs = differences(mat, fits, specified, confirmed)
        for row in filter(None, rows):
            row.save()
        old_ones = [old.segment for old, _ in cleared if old]
        changed = [segment.pk for segment in [*going_in, *old_ones]]
        follow_register(changed, by=by, on=on, told=Told(work_order=work_order))
        wear_changed.send(Fitting, segment_ids=changed, on=on)
    return [
        Fitted(row or old, old and old.segment, moved_from, number, tuple(differing + damage + said))
        for row, (old, said), moved_from, number, differing, damage in zip(
            rows, cleared, moved, ended, differs, past, strict=True
        )
    ]


def take_out(fitting, *, by, on, removed_on, reason, goes=Disposition.SHELF, seen_version=None):
    """Take a segment out; the position stays empty, which holds the mat back. Returns `Fitted` with the remarks."""
    with transaction.atomic():
        check_day("removed_on", removed_on, on, "day it came out")
        hold(fitting.segment, fitting.mat, fitting)
        remarks = _take_out(fitting, removed_on, reason, goes, by, on, seen_version)
        ended = _end_faults(fitting.mat, fitting.position, removed_on, by)
        _changed(fitting, by, on)
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
        _changed(fitting, by, on)
    return fitting


def _check_may_stay(fitting, removed_on):
    """Until that day, or on, in a position that is there, and not after its segment was withdrawn."""
    withdrawn_on = fitting.segment.withdrawn_on
    if withdrawn_on is not None and (removed_on is None or removed_on > withdrawn_on):
        sentence = f"{fitting.segment} was withdrawn on {short_day(withdrawn_on)}: it came out by then."
        raise ValidationError({"removed_on": f"{sentence} Take it back into use first, where it did not."})
    if removed_on is None and not fitting.mat.design.positions.filter(number=fitting.position).exists():
        sentence = (
            f"{fitting.mat.at_start} has no position {fitting.position} any more: its design is {fitting.mat.design}."
        )
        raise ValidationError({"removed_on": f"{sentence} Write the day it came out."})


def _hold_places(mat, fits):
    """The segments that go in and out, then every mat that the first were ever in: their faults are reported there."""
    hold(*(fit.segment for fit in fits), *(fit.out and fit.out.fitting.segment for fit in fits))
    were_in = Fitting.objects.filter(segment__in=[fit.segment for fit in fits if fit.segment]).values_list("mat")
    hold_all(Mat.objects.filter(pk__in={mat.pk, *(mat_id for (mat_id,) in were_in)}))
    hold(mat)


def _clear(mat, fit, going_in, day, by, on):
    """(the fitting that ends, remarks): what is in the position comes out; to another position of this act it moves."""
    old = _occupant(mat, fit.position, day, fit.out)
    if old is None:
        if fit.segment is None:
            raise ValidationError(f"Position {fit.position} of {mat} is empty: nothing comes out.", code="changed")
        return None, []
    reason, goes = fit.out.reason, fit.out.goes
    if old.segment in going_in:
        reason, goes = reason.strip() or f"moved within {mat}", Disposition.SHELF
    return old, _take_out(old, day, reason, goes, by, on, fit.out.seen_version)


def _new_fitting(mat, fit, old, moved_from, fitted_on, basis, by):
    fitting = Fitting(
        segment=fit.segment,
        mat=mat,
        position=fit.position,
        fitted_on=fitted_on,
        fitted_basis=basis,
        ended=old,
        moved_from=moved_from,
        torque_nm=fit.torque_nm,
        end_test=fit.end_test,
        remark=fit.remark,
        recorded_by=by,
    )
    fitting.full_clean()
    return fitting


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
        raise ValidationError(f"{fitting.segment} was taken out on {short_day(fitting.removed_on)} already.")
    if removed_on < fitting.fitted_on:
        raise ValidationError({"removed_on": f"It has been there since {fitting.since}: write a day from then on."})
    reason = reason.strip()
    fitting.correct(by=by, reason=reason, seen_version=seen_version, removed_on=removed_on, removal_reason=reason)


def _free_segment(mat, fit, fitted_on, by):
    """Take the segment out of where it is, if it is somewhere; the fitting that this ended, or None."""
    segment = fit.segment
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
    if not fit.move or fit.moves not in (None, place.pk):
        raise ValidationError(
            {"segment": f"{segment} is in {place.mat} position {place.position} since {place.since}. "
                        "Tick “Move it”, or choose another cable."}
        )  # fmt: skip
    _close(place, fitted_on, f"moved to {mat} position {fit.position}", by)
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
        until = f"to {short_day(first.removed_on)}" if first.removed_on else "on"
        raise ValidationError(
            f"{first.segment} was in {first.mat} position {first.position} from {first.since} {until}: "
            "a position holds one cable at a time, a cable is in one place. Choose another day, or correct that one."
        )


def _changed_meanwhile(mat, *positions):
    these = f"position {positions[0]} of {mat}, or this cable"
    if len(positions) > 1:
        these = f"a position of {mat}, or one of these cables"
    return f"Somebody else has just changed {these}. Look again."


def _changed(fitting, by, on):
    """Its cable is on the shelf or not, and wears otherwise."""
    follow_register([fitting.segment_id], by=by, on=on)
    wear_changed.send(Fitting, segment_ids=[fitting.segment_id], on=on)
