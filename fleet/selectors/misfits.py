"""What does not fit once many rows were corrected at a time: what the page of each would have refused."""

from django.db.models import Exists, F, OuterRef, Q

from ..choices import UsageState
from ..models import CableSegment, Event, Fitting, Mat, UsageEvent

NAMED = 5


def misfits_of(model, rows, on):
    """A sentence for each of the first few misfits of corrected rows of that model, among others."""
    look = {
        Event: _events,
        UsageEvent: _usage,
        Mat: _mats,
        CableSegment: _segments,
        Fitting: _fittings,
    }.get(model)
    return list(look([row.pk for row in rows if type(row) is model], on)[:NAMED]) if look else []


def _misfit_usage(usage, on):
    """Went ahead of time, home before it left, or of a mat that was withdrawn by then."""
    ahead = Q(state=UsageState.WENT, event__ends_on__gt=on)
    early, gone = Q(home_on__lt=F("event__starts_on")), Q(mat__withdrawn_on__lte=F("event__starts_on"))
    found = usage.exclude(state=UsageState.CALLED_OFF).filter(ahead | early | gone)
    return [
        f"{row.mat} at {row.event}, {row.state}, no longer fits its days."
        for row in found.select_related("mat", "event")
    ]


def _events(pks, on):
    return _misfit_usage(UsageEvent.objects.filter(event__in=pks), on)


def _usage(pks, on):
    return _misfit_usage(UsageEvent.objects.filter(pk__in=pks), on)


def _mats(pks, on):
    return _misfit_usage(UsageEvent.objects.filter(mat__in=pks).exclude(mat__withdrawn_on=None), on)


def _segments(pks, on):
    return _outlasting(Fitting.objects.filter(segment__in=pks))


def _outlasting(fittings):
    gone = Q(removed_on=None) | Q(removed_on__gt=F("segment__withdrawn_on"))
    found = fittings.exclude(segment__withdrawn_on=None).filter(gone).select_related("segment", "mat")
    return [f"{row.segment} is in {row.mat} position {row.position}, and withdrawn." for row in found]


def _fittings(pks, on):
    fittings = Fitting.objects.filter(pk__in=pks)
    during = Q(removed_on=None) | Q(removed_on__gt=OuterRef("fitted_on"))
    before = Q(fitted_on__lt=OuterRef("removed_on"))
    open_ones, ended = fittings.filter(removed_on=None), fittings.exclude(removed_on=None)
    clashing = []
    for place in ({"segment": OuterRef("segment")}, {"mat": OuterRef("mat"), "position": OuterRef("position")}):
        others = Fitting.objects.exclude(pk=OuterRef("pk")).filter(during, **place)
        clashing += [open_ones.filter(Exists(others)), ended.filter(Exists(others.filter(before)))]
    found = {row for rows in clashing for row in rows.select_related("segment", "mat")}
    overlapping = [f"{row.segment} in {row.mat} position {row.position}: the place is taken." for row in found]
    return sorted(overlapping) + _outlasting(fittings)
