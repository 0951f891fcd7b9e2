"""Work orders: the list, the sheet, raising and withdrawing."""

from functools import partial
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST
from django_tables2 import RequestConfig

from fleet.forms.record_forms import ReasonForm, VersionForm, values_of
from fleet.views.pages import form_page, list_page, say_refusal, submit
from fleet.views.permissions import may_bench, may_keep

from ..assessment.policy_in_force import look_ahead_days
from ..assessment.services import ensure_assessed
from ..due.selectors import (
    depots_with_mats,
    due_rows,
    due_segment_ids,
    free_segment_ids,
    mats_of_segments,
    rows_of_mats,
)
from ..due.tables import DueTable
from .forms import AskForm, DayAskedForm, GiveForm, OrderFilter, RaiseForm
from .printing import page_foot, sheet_context
from .selectors import TO_DO, empty_positions, get_work_order_or_404, open_faults, work_orders
from .services import give_work_order, raise_work_orders, renew_work_order, withdraw_work_order
from .tables import WorkOrderTable


def work_order_list(request):
    on = timezone.localdate()
    form = OrderFilter(request.GET, depots=depots_with_mats(on))
    chosen = form.chosen()
    table = WorkOrderTable(work_orders(on, **chosen), on=on)
    depot = chosen.get("depot")
    context = {"form": form, "depot": depot, "has_in_force": work_orders(on, state=TO_DO, depot=depot).exists()}
    return list_page(request, "inspections/workshop/list.html", table, **context)


def work_order_detail(request, number):
    order = get_work_order_or_404(number)
    return render(request, "inspections/workshop/work_order.html", sheet_context(order, timezone.localdate()))


def work_order_foot(request, number):
    """The style sheet beside the sheet of an order, which names it."""
    return HttpResponse(page_foot(get_work_order_or_404(number)), content_type="text/css")


@may_bench
def work_order_raise(request):
    """Asked with mats: their cables to choose from, those due ticked. Sent: one order per mat, or this page again."""
    on = timezone.localdate()
    ensure_assessed(on)
    if request.method != "POST":
        form = AskForm(request.GET)
        form.is_valid()
        mats, cables = form.cleaned_data.get("mat", []), _keys(form, "cable")
        return _choose(request, on, mats_of_segments(cables, mats), [*cables, *due_segment_ids(mats, on)], form)
    form = RaiseForm(request.POST)
    if "look" in request.POST:
        return redirect(_look(form))
    address = submit(request, form, partial(_raise, request, on))
    if address:
        return redirect(address)
    chosen = _keys(form, "segments")
    return _choose(request, on, mats_of_segments(chosen, _keys(form, "mats")), chosen, form)


def _keys(form, field):
    return [row.pk for row in form.cleaned_data.get(field, [])]


def _look(form):
    """The page on which more can be chosen, with what is chosen in the due list: with `whole_mats` all that is due."""
    form.is_valid()
    chosen = form.cleaned_data.get("segments", [])
    asked = [("cable", segment.serial) for segment in chosen]
    if form.cleaned_data.get("whole_mats"):
        asked += [("mat", mat.number) for mat in mats_of_segments(chosen)]
    return f"{reverse('inspections:work-order-raise')}?{urlencode(asked)}"


def _choose(request, on, mats, chosen, form):
    mats = list(mats)
    rows = due_rows(rows_of_mats(mats), on)
    shown = {"chosen": chosen, "exclude": ("needed",), "look_ahead_days": look_ahead_days()}
    table = DueTable(rows, on=on, may_bench=True, **shown)
    RequestConfig(request, paginate=False).configure(table)
    refused = request.method == "POST"
    context = {"table": table, "mats": mats, "form": form}
    context["more"] = form if refused else RaiseForm(initial=DayAskedForm(request.GET).initial_day)
    context |= {"faults": open_faults(mats, on), "empty": empty_positions(mats, on)}
    return render(request, "inspections/workshop/raise.html", context, status=422 if refused else 200)


def _raise(request, on, *, segments, mats, whole_mats, every_position, **given):
    chosen = {segment.pk for segment in segments}
    if whole_mats or every_position:
        free = free_segment_ids if every_position else due_segment_ids
        chosen.update(free(mats_of_segments(chosen, mats), on))
    orders = raise_work_orders(chosen, by=request.user, on=on, **given)
    names = ", ".join(f"{order} for {order.mat}" for order in orders)
    messages.success(request, f"Raised: {names}.")
    return orders[0].get_absolute_url() if len(orders) == 1 else reverse("inspections:work-order-list")


@may_bench
def work_order_give(request, number):
    order, on = get_work_order_or_404(number), timezone.localdate()
    asked = DayAskedForm(request.GET).initial_day
    form = GiveForm(request.POST or None, initial=values_of(order, GiveForm) | asked)
    if submit(request, form, partial(give_work_order, order, by=request.user, on=on), row=order) is not None:
        messages.success(request, f"{order} says who does it, and when.")
        return redirect(order)
    return form_page(request, "inspections/workshop/give.html", form, order=order)


@may_keep
@require_POST
def work_order_renew(request, number):
    order, form, on = get_work_order_or_404(number), VersionForm(request.POST), timezone.localdate()
    renewed = submit(request, form, partial(renew_work_order, order, by=request.user, on=on), row=order)
    if renewed is None:
        say_refusal(request, form)
        return redirect(order)
    messages.success(request, f"{order} is renewed as {renewed}, with today's numbers. Print it anew.")
    return redirect(renewed)


@may_keep
def work_order_withdraw(request, number):
    order, on = get_work_order_or_404(number), timezone.localdate()
    form = ReasonForm(request.POST or None)
    if submit(request, form, partial(withdraw_work_order, order, by=request.user, on=on), row=order) is not None:
        messages.success(request, f"{order} is withdrawn.")
        return redirect(order)
    return form_page(request, "inspections/workshop/withdraw.html", form, order=order)
