"""What labels are made for: mats, and cables in mats, on the shelf or one by one."""

from django.db.models import F

from fleet.models import CableSegment, Depot, Fitting, Mat
from fleet.models.fields import code_key

MATS, IN_MATS, ON_SHELF, CABLES = "mats", "in-mats", "shelf", "cables"


def mats_to_label(on, *, mats=None, depot=None):
    """Mats in use with their designs: those named (None: all), of that depot or of any."""
    found = Mat.objects.in_use(on).select_related("design")
    if mats is not None:
        found = found.filter(pk__in=[mat.pk for mat in mats])
    return found.filter(depot=depot) if depot else found


def cables_to_label(what, on, *, mats=None, depot=None, serials=()):
    """Cables with their types, in the order in which somebody meets them: by mat and position, else by serial."""
    cables = CableSegment.objects.select_related("cable_type")
    if what == CABLES:
        return cables.filter(serial_key__in=[code_key(serial) for serial in serials])
    if what == ON_SHELF:
        return cables.on_shelf(on)
    fittings = Fitting.objects.current(on).filter(mat__in=mats_to_label(on, mats=mats, depot=depot))
    fitted = cables.filter(fittings__in=fittings)
    return fitted.annotate(in_mat=F("fittings__mat__number"), at=F("fittings__position")).order_by("in_mat", "at")


def unknown_serials(serials):
    """Those of which there is no cable, as they were typed."""
    keys = {code_key(serial): serial for serial in serials}
    known = set(CableSegment.objects.filter(serial_key__in=keys).values_list("serial_key", flat=True))
    return [serial for key, serial in keys.items() if key not in known]


def known_mats():
    return list(Mat.objects.all())


def depots_with_mats(on):
    return Depot.objects.filter(mats__in=Mat.objects.in_use(on)).distinct()
