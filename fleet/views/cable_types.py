"""Cable types and depots: lists, add, correct, withdraw."""

from functools import partial

from django.conf import settings
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from ..access import MAY_KEEP
from ..forms.record_forms import StateFilter, values_of
from ..forms.register import CableTypeCorrectionForm, CableTypeForm, DepotCorrectionForm, DepotForm
from ..selectors.register import (
    cable_types_listed,
    depots_listed,
    get_cable_type_or_404,
    get_depot_or_404,
)
from ..selectors.trail import trail_of
from ..services.register import add_cable_type, add_depot, correct_plain, withdraw_plain
from ..tables.register import CableTypeTable, DepotTable
from .pages import link_to, list_page
from .permissions import may_keep
from .record_pages import add_page, correct_page, withdraw_page


def cable_type_list(request):
    form = StateFilter(request.GET)
    table = CableTypeTable(cable_types_listed(timezone.localdate(), **form.chosen()))
    return list_page(request, "fleet/cable_type_list.html", table, form=form)


def cable_type_detail(request, name):
    cable_type = get_cable_type_or_404(name)
    return render(request, "fleet/cable_type_detail.html", {"cable_type": cable_type, "trail": trail_of(cable_type)})


@may_keep
def cable_type_add(request):
    form = CableTypeForm(request.POST or None)
    lead = "What cables are cut from. Attenuation is needed. Leave a field empty if the maker does not state it."
    act = partial(add_cable_type, by=request.user)
    return add_page(request, form, act, title="Add a cable type", parent=_types(), lead=lead)


@may_keep
def cable_type_correct(request, name):
    cable_type = get_cable_type_or_404(name)
    form = CableTypeCorrectionForm(request.POST or None, initial=values_of(cable_type, CableTypeCorrectionForm))
    act = partial(correct_plain, cable_type, by=request.user)
    return correct_page(request, cable_type, form, act, parent=_types(), trail=trail_of)


@may_keep
def cable_type_withdraw(request, name):
    lead = "It is no longer offered for new cables. Cables of this type stay in use."
    return withdraw_page(request, get_cable_type_or_404(name), withdraw_plain, parent=_types(), lead=lead)


def depot_list(request):
    form = StateFilter(request.GET)
    rows = depots_listed(timezone.localdate(), **form.chosen())
    table = DepotTable(rows, may_keep=request.user.has_perm(MAY_KEEP))
    return list_page(request, "fleet/depot_list.html", table, form=form, mail_is_set=bool(settings.MAIL))


@may_keep
def depot_add(request):
    act = partial(add_depot, by=request.user)
    return add_page(
        request,
        DepotForm(request.POST or None),
        act,
        title="Add a depot",
        parent=_depots(),
        redirect_to=lambda _: _depots()["url"],
    )


@may_keep
def depot_correct(request, name):
    depot = get_depot_or_404(name)
    form = DepotCorrectionForm(request.POST or None, initial=values_of(depot, DepotCorrectionForm))
    act = partial(correct_plain, depot, by=request.user)
    return correct_page(
        request, depot, form, act, parent=_depots(), return_url=reverse("fleet:depot-list"), trail=trail_of
    )


@may_keep
def depot_withdraw(request, name):
    lead = "It is no longer offered for mats. Mats that are there stay there."
    depot = get_depot_or_404(name)
    return withdraw_page(
        request, depot, withdraw_plain, parent=_depots(), lead=lead, return_url=reverse("fleet:depot-list")
    )


def _types():
    return link_to("fleet:cable-type-list", "Cable types")


def _depots():
    return link_to("fleet:depot-list", "Depots")
