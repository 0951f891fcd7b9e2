"""Mat designs, cable types and depots, each with how many rows refer to it."""

from django.db.models import Count, Exists, OuterRef
from django.shortcuts import get_object_or_404

from ..figures import two_places
from ..models import CableType, Depot, DesignPosition, Fault, Fitting, MatDesign
from ..models.withdrawable import in_use
from .mats import of_state
from .trail import deleted_rows, newest_first, trail_of_rows


def get_design_or_404(code):
    return get_object_or_404(MatDesign.objects.select_related("recorded_by"), code=code)


def get_position_or_404(code, number):
    return get_object_or_404(
        DesignPosition.objects.select_related("design", "cable_type"), design__code=code, number=number
    )


def is_deleted(code, number):
    """There was such a position, and there is none now."""
    of_number = {"design__code": code, "number": number}
    existing = DesignPosition.objects.filter(**of_number).exists()
    return not existing and DesignPosition.history.filter(history_type="-", **of_number).exists()


def get_cable_type_or_404(name):
    return get_object_or_404(CableType.objects.select_related("recorded_by"), name=name)


def get_depot_or_404(name):
    return get_object_or_404(Depot, name=name)


def _mats_in_use(on):
    return Count("mats", filter=in_use(on, "mats"), distinct=True)


def designs_listed(on, state=""):
    """Designs with their number of positions and of mats in use."""
    designs = of_state(MatDesign.objects.all(), state, on)
    counted = designs.annotate(position_count=Count("positions", distinct=True), mats_in_use=_mats_in_use(on))
    return counted.order_by("code")


def designs_in_use(on):
    return MatDesign.objects.in_use(on).order_by("code")


def cable_types_listed(on, state=""):
    """Cable types with the number of segments in use."""
    types = of_state(CableType.objects.all(), state, on)
    segments_in_use = Count("segments", filter=in_use(on, "segments"), distinct=True)
    return types.annotate(segments_in_use=segments_in_use).order_by("name")


def depots_listed(on, state=""):
    return of_state(Depot.objects.all(), state, on).annotate(mats_in_use=_mats_in_use(on)).order_by("name")


def positions_of_design(design):
    """With `ever_held`: whether a mat of the design has, or had, a cable or a fault there."""
    existing = {"mat__design": OuterRef("design"), "position": OuterRef("number")}
    ever_held = Exists(Fitting.objects.filter(**existing)) | Exists(Fault.objects.filter(**existing))
    return design.positions.select_related("cable_type").annotate(ever_held=ever_held).order_by("number")


def next_position_number(design):
    newest = design.positions.order_by("-number").first()
    return newest.number + 1 if newest else 1


def trail_of_design(design):
    """Corrections of the design and of its positions in one list, newest first."""
    of_design = trail_of_rows([design], name=lambda row: "Design")
    of_positions = trail_of_rows(design.positions.all(), name=lambda row: f"Position {row.number}")
    of_deleted = deleted_rows(
        DesignPosition, lambda row: f"Position {row.number}, {two_places(row.length_m)} m: deleted", design=design
    )
    return newest_first(of_design, of_positions, of_deleted)
