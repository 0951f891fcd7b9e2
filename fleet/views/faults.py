"""Faults of all mats; report one, end it, correct it."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from ..access import MAY_BENCH
from ..choices import FaultEnd, FaultPlace, ends_of
from ..figures import short_day
from ..forms.faults import FaultCorrectionForm, FaultEndForm, FaultFilter, FaultReportForm
from ..forms.record_forms import values_of
from ..selectors.faults import faults_listed, get_fault_or_404, open_faults_of_mat
from ..selectors.mats import depots_of_mats, get_mat_or_404, positions_of, several_depots, trail_of_mat
from ..services.faults import correct_fault, end_fault, report_fault
from ..tables.faults import FaultTable
from .next_page import next_page
from .pages import form_page, link_to, list_page, submit
from .permissions import may_keep, may_log, require
from .record_pages import correct_page

# what a page that leads here already knows
ASKED = ("reported_on", "position", "place")


def fault_list(request):
    on, several = timezone.localdate(), several_depots()
    form = FaultFilter(request.GET, depots=depots_of_mats() if several else None)
    table = FaultTable(faults_listed(on, **form.chosen()), on=on, several_depots=several)
    return list_page(request, "fleet/fault_list.html", table, form=form)


@may_log
def fault_report(request, number):
    mat, on = get_mat_or_404(number), timezone.localdate()
    asked = {"reported_on": on} | {name: request.GET[name] for name in ASKED if name in request.GET}
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = FaultReportForm(*sent, positions=_positions(mat, on), initial=asked)
    address = submit(request, form, partial(_report, request, mat, on))
    back = next_page(request, mat)
    if address:
        return redirect(address)
    more = form.is_bound or "position" in asked
    context = {"mat": mat, "back": back, "faults": open_faults_of_mat(mat, on), "more": more}
    return form_page(request, "fleet/fault_report.html", form, **context)


def _report(request, mat, on, **values):
    fault = report_fault(mat, by=request.user, on=on, **values)
    messages.success(request, f"Reported: {_reported(fault)}.")
    return next_page(request, mat)


def _reported(fault):
    said = {
        FaultPlace.WET: f"{fault.mat} is wet",
        FaultPlace.WHOLE_MAT: f"{fault.mat} as a whole",
        FaultPlace.NOT_KNOWN: f"something on {fault.mat}, not known where",
    }
    place = f"{fault.place} in position {fault.position}" if fault.position else fault.place
    return said.get(fault.place) or f"{place} of {fault.mat}"


@may_log
def fault_end(request, pk):
    """Who logs only may say that something has dried, and no more."""
    fault, on = get_fault_or_404(pk), timezone.localdate()
    if fault.ended_on:
        messages.warning(request, f"The fault of {short_day(fault.reported_on)} is closed: {fault.end_reason}.")
        return redirect(next_page(request, fault.mat))
    ends = _ends_for(request.user, fault)
    if not ends or request.POST.get("end_reason", ends[0]) in set(FaultEnd) - set(ends):
        require(request.user, MAY_BENCH)
    only = {"end_reason": ends[0]} if len(ends) == 1 else {}
    form = FaultEndForm(request.POST or None, ends=ends, initial={"ended_on": on} | only)
    if submit(request, form, partial(end_fault, fault, by=request.user, on=on), row=fault) is not None:
        messages.success(request, _closed(fault))
        return redirect(next_page(request, fault.mat))
    context = {"fault": fault, "mat": fault.mat, "next": next_page(request, fault.mat)}
    return form_page(request, "fleet/fault_end.html", form, **context)


def _closed(fault):
    if fault.end_reason == FaultEnd.DRIED:
        return f"{fault.mat.at_start} has dried."
    return f"Closed: {fault.end_reason}."


def _ends_for(user, fault):
    """Who logs only says that a wet mat has dried; whether anything else is well again, somebody has to look at."""
    if user.has_perm(MAY_BENCH):
        return ends_of(fault.place)
    return [FaultEnd.DRIED] if fault.place == FaultPlace.WET else []


@may_keep
def fault_correct(request, pk):
    fault, on = get_fault_or_404(pk), timezone.localdate()
    form = FaultCorrectionForm(
        request.POST or None,
        positions=_positions(fault.mat, on, fault.position),
        ends=ends_of(fault.place),
        initial=values_of(fault, FaultCorrectionForm),
    )
    return correct_page(
        request,
        fault,
        form,
        partial(correct_fault, fault, by=request.user, on=on),
        parent=link_to("fleet:mat-list", "Mats"),
        return_url=fault.mat.get_absolute_url(),
        trail=lambda row: trail_of_mat(row.mat),
        fault=fault,
        mat=fault.mat,
    )


def _positions(mat, on, also=None):
    """Positions to choose from; one that a fault names stays, whatever the design says now."""
    return sorted({place.number for place in positions_of(mat, on)} | ({also} if also else set()))
