"""Mats with their register data, and one mat position by position."""

from dataclasses import dataclass

from django.shortcuts import get_object_or_404

from ..figures import short_day
from ..models import Depot, DesignPosition, FaultPhoto, Fitting, Mat, MatDesign, UsageEvent
from .deleting_fittings import deleted_fittings
from .notes import trail_of_notes
from .trail import deleted_rows, newest_first, trail_of_rows

IN_USE, WITHDRAWN, ALL = "in use", "withdrawn", "all"
OUT, SHOULD_BE_BACK = "out", "should be back"


@dataclass(frozen=True)
class MatPosition:
    """One position of a mat; `specified` None: the design lacks it; `fitting` None: it is empty."""

    number: int
    specified: DesignPosition | None
    fitting: Fitting | None

    @property
    def build(self):
        """What says how long the cable is: the one that is in it, else the design's position."""
        return self.fitting.segment if self.fitting else self.specified

    @property
    def length_m(self):
        return self.build.length_m

    @property
    def differs(self):
        """The cable's length is not the one that the design specifies."""
        return bool(self.fitting and self.specified and self.fitting.segment.length_m != self.specified.length_m)


def get_mat_or_404(number):
    """The mat of that number, in capitals or not: somebody typed the address that stands on its label."""
    return get_object_or_404(Mat.objects.with_register().named(number))


def all_mats():
    """Those in use and those withdrawn."""
    return Mat.objects.all()


def mats_listed(on, *, depot=None, design=None, owner="", state=IN_USE, find="", where=""):
    """Mats with what a list names; `where`: OUT, SHOULD_BE_BACK or any."""
    mats = of_state(Mat.objects.with_register(), state, on)
    if depot:
        mats = mats.filter(depot=depot)
    if design:
        mats = mats.filter(design=design)
    if owner:
        mats = mats.filter(owner=owner)
    if find:
        mats = mats.find(find)
    if where:
        usage = UsageEvent.objects.out(on) if where == OUT else UsageEvent.objects.should_be_back(on)
        mats = mats.filter(pk__in=usage.values("mat"))
    return mats


def of_state(rows, state, on):
    """Rows that can be withdrawn: those in use (also where nothing was chosen), withdrawn, or all."""
    if state == ALL:
        return rows
    return rows.filter(withdrawn_on__lte=on) if state == WITHDRAWN else rows.in_use(on)


def positions_of(mat, on):
    """Every position of the mat on that day, in order: those of its design, and any beyond it that holds a cable."""
    fittings = mat.fittings.current(on).select_related("segment__cable_type", "mat")
    held = {fitting.position: fitting for fitting in fittings}
    specified = {position.number: position for position in mat.design.positions.select_related("cable_type")}
    return [MatPosition(number, specified.get(number), held.get(number)) for number in sorted({*specified, *held})]


def fittings_of_mat(mat, on):
    """All cables that are or were in the mat by that day, position by position, oldest first."""
    return mat.fittings.filter(fitted_on__lte=on).select_related("segment").order_by("position", "fitted_on", "pk")


def usage_of_mat(mat, on):
    """Its usage events with their events, newest first; also those ahead; with `gives_way`."""
    return mat.usage_events.with_gives_way(on).select_related("event").order_by("-event__starts_on", "event__code")


def trail_of_mat(mat):
    """Corrections of the mat, of its fittings, faults, their photos and notes in one list, newest first."""
    parts = [
        trail_of_rows([mat], name=lambda row: "Mat"),
        trail_of_rows(
            mat.fittings.select_related("segment"), name=lambda row: f"{row.segment} in position {row.position}"
        ),
        trail_of_rows(mat.faults.all(), name=lambda row: f"Fault of {short_day(row.reported_on)} ({row.place})"),
        trail_of_notes(mat),
        deleted_rows(FaultPhoto, lambda row: "Photo of a fault: taken off", fault__in=mat.faults.values("pk")),
    ]
    return newest_first(*parts, deleted_fittings(mat=mat))


def depots_to_choose(on, also=None):
    return Depot.objects.in_use(on) | Depot.objects.filter(pk=also and also.pk)


def designs_to_choose(on, also=None):
    return MatDesign.objects.in_use(on) | MatDesign.objects.filter(pk=also and also.pk)


def owners_known():
    return list(Mat.objects.exclude(owner="").order_by("owner").values_list("owner", flat=True).distinct())


def several_depots():
    """Whether there are two depots or more in use: until then depots are neither asked for nor shown."""
    return len(Depot.objects.filter(withdrawn_on=None)[:2]) == 2


def depots_of_mats():
    return Depot.objects.filter(mats__isnull=False).distinct()
