"""Faults of a mat, and those that go with a segment."""

from django.shortcuts import get_object_or_404

from ..choices import FaultEnd
from ..models import Fault

OPEN, CLOSED, ALL = "open", "closed", "all"


def faults_listed(on, *, state=OPEN, depot=None):
    """Faults of mats in use, the newest first, with what a list says of each."""
    faults = Fault.objects.of_mats_in_use(on).select_related("mat__depot", "recorded_by")
    if depot:
        faults = faults.filter(mat__depot=depot)
    if state == CLOSED:
        faults = faults.filter(ended_on__lte=on)
    elif state == OPEN:
        faults = faults.open_on(on)
    return faults.order_by("-reported_on", "mat__number", "number")


def get_fault_or_404(pk):
    """With its photos, for the page that shows it."""
    faults = Fault.objects.select_related("mat__design", "recorded_by").prefetch_related("photos__recorded_by")
    return get_object_or_404(faults, pk=pk)


def faults_of_mat(mat, on):
    """All faults of a mat with photos, and who reported and who closed each: those open first, then the newest."""
    of_mat = mat.faults.select_related("recorded_by").prefetch_related("photos")
    faults = list(of_mat.order_by("-reported_on", "number"))
    closers = closers_of(faults)
    for fault in faults:
        fault.closed_by = closers.get(fault.pk)
    return sorted(faults, key=lambda fault: not is_open(fault, on))


def open_faults_of_mat(mat, on):
    return list(mat.faults.open_on(on).prefetch_related("photos").order_by("-reported_on", "number"))


def closers_of(faults):
    """{fault's key: who closed it}; one that came closed out of a file has none."""
    closers = {}
    closed = [fault.pk for fault in faults if fault.ended_on]
    entries = Fault.history.filter(id__in=closed).select_related("history_user").order_by("history_date", "history_id")
    for entry in entries:
        if entry.ended_on is None:
            closers.pop(entry.id, None)
        else:
            closers.setdefault(entry.id, entry.history_user)
    return closers


def is_open(fault, on):
    return fault.reported_on <= on and (fault.ended_on is None or fault.ended_on > on)


def open_faults_of_segment(segment, on):
    """Faults of its cable or connector that are open on that day, wherever it was when they were reported."""
    return [fault for fault in faults_of_segment(segment) if is_open(fault, on)]


def faults_it_came_out_with(segment):
    """Faults with which the segment was taken out: ended by change, never looked at."""
    return [fault for fault in faults_of_segment(segment) if fault.end_reason == FaultEnd.CHANGE]


def faults_of_segment(segment):
    """Faults of its cable or connector, oldest first. What was reported on the day of a change was of the old one."""
    fittings = list(segment.fittings.all())
    faults = (
        Fault.objects.of_cables()
        .filter(mat__in={fitting.mat_id for fitting in fittings})
        .select_related("mat")
        .order_by("reported_on", "number")
    )
    return [fault for fault in faults if any(_was_of(fault, fitting) for fitting in fittings)]


def _was_of(fault, fitting):
    if (fault.mat_id, fault.position) != (fitting.mat_id, fitting.position):
        return False
    changed_on = fault.ended_on if fault.end_reason == FaultEnd.CHANGE else None
    if fault.reported_on == changed_on == fitting.removed_on:
        return True
    if fault.reported_on == changed_on == fitting.fitted_on:
        return False
    return fitting.covers(fault.reported_on)
