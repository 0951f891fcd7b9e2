"""Cable segments: where each is, and its life from fitting to fitting."""

from django.db.models import F, OuterRef, Q, Subquery
from django.shortcuts import get_object_or_404

from ..models import CableSegment, CableType, Fitting
from ..models.segments import of_length
from .deleting_fittings import deleted_fittings
from .notes import trail_of_notes
from .trail import newest_first, trail_of_rows

IN_USE, SHELF, FITTED, WITHDRAWN, ALL = "in use", "on the shelf", "fitted", "withdrawn", "all"
MOST_SPARES = 200


def get_segment_or_404(serial):
    """The segment of that serial, in capitals or not, as an address that somebody typed."""
    return get_object_or_404(CableSegment.objects.select_related("cable_type", "recorded_by").named(serial))


def get_fitting_or_404(serial, pk):
    fittings = Fitting.objects.select_related("segment", "mat__design")
    return get_object_or_404(fittings, segment__serial=serial, pk=pk)


def segment_named(serial):
    """The segment of that serial, written in capitals or not; None when there is none."""
    return CableSegment.objects.named(serial).first()


def segments_listed(on, *, where=IN_USE, cable_type=None, length_m=None, find="", lot=""):
    """Segments with the mat and position they are in on that day (`in_mat`, `in_position`, `since`; None: in none)."""
    segments = _where(CableSegment.objects.select_related("cable_type"), where, on)
    if cable_type:
        segments = segments.filter(cable_type=cable_type)
    if length_m is not None:
        segments = segments.filter(of_length(length_m))
    if find:
        segments = segments.find(find)
    if lot:
        segments = segments.filter(lot=lot)
    current = Fitting.objects.current(on).filter(segment=OuterRef("pk")).order_by("-fitted_on")
    return segments.annotate(
        in_mat=Subquery(current.values("mat__number")[:1]),
        in_position=Subquery(current.values("position")[:1]),
        since=Subquery(current.values("fitted_on")[:1]),
        since_basis=Subquery(current.values("fitted_basis")[:1]),
    )


def _where(segments, where, on):
    if where == SHELF:
        return segments.on_shelf(on)
    if where == FITTED:
        return segments.fitted_on(on)
    if where == WITHDRAWN:
        return segments.filter(withdrawn_on__lte=on)
    return segments if where == ALL else segments.in_use(on)


def spares_for(specified, on):
    """Segments on the shelf to fit into a position, those of its length and type first."""
    return spares_of_kinds([specified], on)


def spares_of_kinds(places, on):
    """Segments on the shelf, those of the length and type of one of these positions first."""
    spares = CableSegment.objects.on_shelf(on).select_related("cable_type")
    same = Q(pk=None)
    for length_m, cable_type in {(place.length_m, place.cable_type_id) for place in places}:
        same |= Q(length_m=length_m, cable_type=cable_type)
    return [*spares.filter(same)[:MOST_SPARES], *spares.exclude(same).order_by("length_m", "serial")[:MOST_SPARES]]


def fittings_of_segment(segment):
    """Its life, the first fitting first."""
    return segment.fittings.select_related("mat", "recorded_by").order_by(
        "fitted_on", F("removed_on").asc(nulls_last=True)
    )


def place_of_segment(segment, on):
    """The fitting it is in on that day, or None: on the shelf or withdrawn."""
    return segment.fittings.current(on).select_related("mat__design", "mat__depot").order_by("-fitted_on").first()


def trail_of_segment(segment):
    """Corrections of the segment, of its fittings and of its notes in one list, newest first."""
    of_segment = trail_of_rows([segment], name=lambda row: "Cable")
    of_fittings = trail_of_rows(
        segment.fittings.select_related("mat"), name=lambda row: f"In {row.mat} position {row.position}"
    )
    return newest_first(of_segment, of_fittings, trail_of_notes(segment), deleted_fittings(segment=segment))


def cable_types_to_choose(on, also=None):
    return CableType.objects.in_use(on) | CableType.objects.filter(pk=also and also.pk)


def cable_types_of_segments():
    return CableType.objects.filter(segments__isnull=False).distinct()
