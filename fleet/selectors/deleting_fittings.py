"""What stands on a fitting, and what is back where it was once the fitting is deleted."""

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import OuterRef, Subquery

from ..choices import FaultEnd
from ..figures import short_day
from ..models import CableSegment, Fault, Fitting, Mat
from ..models.mats import mat_name
from .trail import deleted_states

TOLD_LATELY = timedelta(days=30)


@dataclass(frozen=True)
class Undone:
    """All that deleting a fitting does beside it.

    `stands`: sentences on what was built on it; with one it stays. `stays`: what is not put back, and why.
    """

    stands: tuple[str, ...] = ()
    reopened: tuple[Fitting, ...] = ()
    returned: tuple[CableSegment, ...] = ()
    faults: tuple[Fault, ...] = ()
    stays: tuple[str, ...] = ()

    @property
    def follows(self):
        """What a person is told beforehand, a sentence each."""
        return (
            *(f"{row.segment} is in {row.mat} position {row.position} again." for row in self.reopened),
            *(f"{segment} is not thrown away any more." for segment in self.returned),
            *(f"The fault of {short_day(row.reported_on)} ({row.place}) is open again." for row in self.faults),
            *self.stays,
        )


def told_lately(fitting, on):
    """Somebody typed it in the last weeks: what is wrong with it is likely to be found out now."""
    return fitting.load_id is None and fitting.recorded_at.date() >= on - TOLD_LATELY


def undone_with(fitting):
    """What follows once this fitting is deleted."""
    ended = _ended_by(fitting)
    kept = {row.pk: _why_it_stays_out(row, fitting) for row in ended}
    reopened = tuple(row for row in ended if not kept[row.pk])
    faults, closed = _faults_it_ended(fitting, reopened)
    return Undone(
        stands=tuple(_standing_on(fitting, reopened, faults)),
        reopened=reopened,
        returned=tuple(row.segment for row in reopened if _went_with_it(row)),
        faults=faults,
        stays=(*filter(None, kept.values()), *_stays_withdrawn(fitting, reopened), *closed),
    )


def _ended_by(fitting):
    """The fitting that came out of the position, and where the segment itself was until then."""
    ids = {fitting.ended_id, fitting.moved_from_id}
    return list(Fitting.objects.filter(pk__in=ids - {None}).select_related("segment", "mat__design").order_by("pk"))


def _why_it_stays_out(ended, fitting):
    """A sentence where something has happened since that speaks for itself; else nothing."""
    out = f"{ended.segment} stays out of {ended.mat} position {ended.position}"
    if ended.removed_on != _first_with(ended, "removed_on").removed_on:
        return f"{out}: the day on which it came out was corrected since."
    others = Fitting.objects.exclude(pk__in=[ended.pk, fitting.pk]).overlapping(ended.fitted_on, None)
    others = others.select_related("segment", "mat").order_by("fitted_on")
    elsewhere = others.filter(segment=ended.segment).first()
    if elsewhere:
        return f"{out}: it is in {elsewhere.mat} position {elsewhere.position} from {elsewhere.since}."
    taken = others.filter(mat=ended.mat, position=ended.position).first()
    if taken:
        return f"{out}: {taken.segment} is there from {taken.since}."
    if ended.segment.withdrawn_on and not _went_with_it(ended):
        return f"{out}: it was withdrawn on {short_day(ended.segment.withdrawn_on)}."
    if not ended.mat.design.positions.filter(number=ended.position).exists():
        return f"{out}: the design {ended.mat.design} has no such position any more."
    return ""


def _went_with_it(ended):
    """Thrown away by the act that took it out."""
    segment = ended.segment
    return segment.withdrawn_on == ended.removed_on and segment.withdrawal_reason == ended.removal_reason


def _stays_withdrawn(fitting, reopened):
    segment = fitting.segment
    if segment.withdrawn_on and segment.pk not in {row.segment_id for row in reopened}:
        gone = short_day(segment.withdrawn_on)
        yield f"{segment} stays withdrawn since {gone}. Take it back into use if it is there."


def _faults_it_ended(fitting, reopened):
    """(the faults that this change ended, sentences on those of which that is not known)."""
    days = [fitting.fitted_on]
    if fitting.removed_on and _is_back(fitting, reopened):
        days.append(fitting.removed_on)
    by_change = Fault.objects.filter(mat=fitting.mat, end_reason=FaultEnd.CHANGE, ended_on__in=days)
    by_change = list(by_change.select_related("mat").order_by("reported_on", "number"))
    others = _other_acts(fitting) if by_change else []
    of_place = [fault for fault in by_change if fault.is_of_cable and fault.position == fitting.position]
    of_mat = [fault for fault in by_change if not fault.is_of_cable and fault.ended_on == fitting.fitted_on]
    sure = [fault for fault in of_place if _ended_with(fault, fitting, others)]
    if of_mat and _changes_of_that_day(fitting):
        return tuple(sure), tuple(map(_stays_closed, of_mat))
    return (*sure, *of_mat), ()


def _is_back(fitting, reopened):
    """A cable is in its place again, as if nothing had happened there."""
    return any((row.mat_id, row.position) == (fitting.mat_id, fitting.position) for row in reopened)


def _changes_of_that_day(fitting):
    return Fitting.objects.filter(mat=fitting.mat, fitted_on=fitting.fitted_on).exclude(pk=fitting.pk)


def _other_acts(fitting):
    """When other cables came and went in its place that day, but for the one that it ended itself."""
    here = Fitting.objects.filter(mat=fitting.mat, position=fitting.position).exclude(pk=fitting.pk)
    ended = here.filter(removed_on=fitting.fitted_on).exclude(pk=fitting.ended_id or 0)
    return [row.recorded_at for row in here.filter(fitted_on=fitting.fitted_on)] + [
        _written_at(row, "removed_on") for row in ended
    ]


def _ended_with(fault, fitting, others):
    """Of all that was done in its place that day this fitting was entered nearest to the end of the fault."""
    if not others or fault.ended_on != fitting.fitted_on:
        return True
    ended_at = _written_at(fault, "ended_on")
    return abs(ended_at - fitting.recorded_at) < min(abs(ended_at - when) for when in others)


def _first_with(row, field):
    """What it said when that day was written after there had been none; without a trail the row itself."""
    states = row.history.order_by("history_id")
    empty = states.filter(**{field: None}).last()
    return (states.filter(history_id__gt=empty.history_id) if empty else states).first() or row


def _written_at(row, field):
    """When that day was written."""
    state = _first_with(row, field)
    return row.recorded_at if state is row else state.history_date


def _stays_closed(fault):
    day = f"{short_day(fault.reported_on)}"
    return f"The fault of {day} ({fault.place}) stays closed: several cables of {fault.mat} were changed that day."


def _standing_on(fitting, reopened, faults):
    for later in fitting.ended_by.select_related("segment", "mat"):
        yield f"{later.segment} took its place on {short_day(later.fitted_on)}. Delete that fitting first."
    for later in fitting.moved_to.select_related("segment", "mat"):
        yield f"{later.segment} was moved from here to {later.mat} position {later.position}. Delete that first."
    if _is_back(fitting, reopened):
        return
    reported = Fault.objects.of_cables().filter(mat=fitting.mat, position=fitting.position)
    for fault in reported.exclude(pk__in=[row.pk for row in faults]).order_by("reported_on"):
        if fitting.covers(fault.reported_on):
            day = f"{short_day(fault.reported_on)}"
            yield f"A fault of this cable was reported on {day}: {fault.place}. Correct that first."


def deleted_fittings(**of):
    """What is left in the trail of fittings that were deleted, of a segment or of a mat."""
    states = Fitting.history.filter(**of).select_related("segment", "mat")
    serial = CableSegment.history.filter(id=OuterRef("segment"), history_type="-").values("serial")[:1]
    number = Mat.history.filter(id=OuterRef("mat"), history_type="-").values("number")[:1]
    return deleted_states(states.annotate(serial_then=Subquery(serial), number_then=Subquery(number)), _in_words)


def _in_words(state):
    """Where the cable or the mat is deleted as well, by the code that it had then."""
    segment, mat = state.segment or state.serial_then, state.mat or mat_name(state.number_then)
    until = f" to {short_day(state.removed_on)}" if state.removed_on else ""
    return f"{segment} in {mat} position {state.position} from {short_day(state.fitted_on)}{until}: deleted"
