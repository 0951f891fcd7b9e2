"""Work orders for all that is due in one go, and several orders printed as one document."""

from functools import partial

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from fleet.views.pages import submit
from fleet.views.permissions import may_bench

from ..assessment.services import ensure_assessed
from ..templatetags.figures import counted
from .bulk_forms import DepotForm, PrintForm, RaiseAllForm
from .bulk_selectors import AllDue, all_due
from .bulk_services import raise_all_due
from .bulk_tables import DueMatTable
from .bundle_selectors import MOST_ORDERS, orders_to_print
from .printing import bundle_context, page_feet
from .selectors import TO_DO


@may_bench
def raise_all(request):
    """Asked for a depot, or for all: what would be raised. Sent: it is raised, or this page again."""
    on = timezone.localdate()
    ensure_assessed(on)
    sent = request.method == "POST"
    form = RaiseAllForm(request.POST) if sent else RaiseAllForm()
    address = submit(request, form, partial(_raise_all, request, on))
    if address:
        return redirect(address)
    asked = form if sent else DepotForm(request.GET)
    asked.is_valid()
    depot = asked.cleaned_data.get("depot")
    due = AllDue([]) if "depot" in asked.errors else all_due(depot, on)
    context = {"form": form, "asked": asked, "depot": depot, "due": due, "table": DueMatTable(due.mats)}
    return render(request, "inspections/workshop/raise_all.html", context, status=422 if sent else 200)


def _raise_all(request, on, *, depot, **given):
    orders, cables = raise_all_due(depot, by=request.user, on=on, **given)
    messages.success(request, f"Raised: {counted(len(orders), 'work order')} for {counted(cables, 'cable')}.")
    query = QueryDict(mutable=True)
    query.update({"state": TO_DO} | ({"depot": depot.name} if depot else {}))
    return f"{reverse('inspections:work-order-list')}?{query.urlencode()}"


def print_orders(request):
    """Orders as one document for paper: what they need in front, then each on its sheet."""
    on, form = timezone.localdate(), PrintForm(request.GET)
    orders = _asked_for(form, on)
    context = bundle_context(orders[:MOST_ORDERS], on)
    cut_off_at = MOST_ORDERS if len(orders) > MOST_ORDERS else 0
    return render(request, "inspections/workshop/orders.html", context | {"form": form, "cut_off_at": cut_off_at})


def print_feet(request):
    """The style sheet beside that document: what differs from order to order."""
    orders = _asked_for(PrintForm(request.GET), timezone.localdate())
    return HttpResponse(page_feet(orders[:MOST_ORDERS]), content_type="text/css")


def _asked_for(form, on):
    return orders_to_print(on, **form.cleaned_data) if form.is_valid() else []
