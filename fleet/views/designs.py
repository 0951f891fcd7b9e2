"""Mat designs and their positions: the list, one design, add, correct, withdraw."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone

from ..access import MAY_KEEP
from ..forms.record_forms import ReasonForm, StateFilter, values_of
from ..forms.register import (
    DesignCorrectionForm,
    NewDesignForm,
    NewPositionForm,
    PositionCorrectionForm,
)
from ..selectors.register import (
    designs_listed,
    get_design_or_404,
    get_position_or_404,
    is_deleted,
    next_position_number,
    positions_of_design,
    trail_of_design,
)
from ..selectors.segments import cable_types_to_choose
from ..services.designs import add_design, add_position, correct_design, correct_position, delete_position
from ..services.register import withdraw_plain
from ..tables.register import DesignPositionTable, DesignTable
from .pages import form_page, link_to, list_page, submit
from .permissions import may_keep
from .record_pages import add_page, correct_page, withdraw_page


def design_list(request):
    form = StateFilter(request.GET)
    table = DesignTable(designs_listed(timezone.localdate(), **form.chosen()))
    return list_page(request, "fleet/design_list.html", table, form=form)


def design_detail(request, code):
    design = get_design_or_404(code)
    table = DesignPositionTable(positions_of_design(design), may_keep=request.user.has_perm(MAY_KEEP))
    context = {"design": design, "table": table, "trail": trail_of_design(design)}
    return render(request, "fleet/design_detail.html", context)


@may_keep
def design_add(request):
    form = NewDesignForm(request.POST or None, cable_types=cable_types_to_choose(timezone.localdate()))
    act = partial(add_design, by=request.user)
    lead = "What mats of one build share: where they fold, and the cable of each position."
    return add_page(request, form, act, title="Add a mat design", parent=_parent(), lead=lead)


@may_keep
def design_correct(request, code):
    design = get_design_or_404(code)
    form = DesignCorrectionForm(request.POST or None, initial=values_of(design, DesignCorrectionForm))
    act = partial(correct_design, design, by=request.user)
    return correct_page(request, design, form, act, parent=_parent(), trail=trail_of_design)


@may_keep
def design_withdraw(request, code):
    lead = "It is no longer offered for new mats. Mats of this design stay in use."
    return withdraw_page(request, get_design_or_404(code), withdraw_plain, parent=_parent(), lead=lead)


@may_keep
def position_add(request, code):
    design, on = get_design_or_404(code), timezone.localdate()
    initial = {"number": next_position_number(design)}
    form = NewPositionForm(request.POST or None, initial=initial, cable_types=cable_types_to_choose(on))
    parent = {"url": design.get_absolute_url(), "label": f"Design {design}"}
    lead = "It is empty in every mat of this design until a cable is fitted, and an empty position puts a mat on hold."
    act = partial(add_position, design, by=request.user)
    return add_page(
        request, form, act, title="Add a position", parent=parent, lead=lead, redirect_to=lambda position: design
    )


@may_keep
def position_correct(request, code, number):
    position, on = get_position_or_404(code, number), timezone.localdate()
    form = PositionCorrectionForm(
        request.POST or None,
        initial=values_of(position, PositionCorrectionForm),
        cable_types=cable_types_to_choose(on, position.cable_type),
    )
    return correct_page(
        request,
        position,
        form,
        partial(correct_position, position, by=request.user),
        parent=_parent(),
        return_url=position.design.get_absolute_url(),
        trail=lambda row: trail_of_design(row.design),
        lead="What this position needs. Cables that are fitted there keep their own length.",
    )


@may_keep
def position_delete(request, code, number):
    if request.method == "POST" and is_deleted(code, number):
        return redirect(get_design_or_404(code))  # pressed twice
    position = get_position_or_404(code, number)
    form = ReasonForm(request.POST or None)
    if submit(request, form, partial(delete_position, position, by=request.user), row=position) is not None:
        messages.success(request, f"{position} is deleted.")
        return redirect(position.design)
    return form_page(request, "fleet/position_delete.html", form, position=position, parent=_parent())


def _parent():
    return link_to("fleet:design-list", "Mat designs")
