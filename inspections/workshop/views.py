"""Work orders: the list, the sheet, raising and taking back."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django_tables2 import RequestConfig

from fleet.forms.submissions import OnceForm
from fleet.services.submissions import act_once
from fleet.views.permissions import may_log

from ..assessment.policy import look_ahead_days
from ..assessment.services import ensure_assessed
from ..due.selectors import due_lines, due_segment_ids, mats_of_segments, rows_of_mats
from ..due.tables import DueTable
from .forms import AskForm, RaiseForm, WithdrawForm
from .selectors import get_work_order_or_404, work_orders
from .services import raise_work_orders, withdraw_work_order
from .sheet_views import sheet_context
from .tables import WorkOrderTable


def work_order_list(request):
    on = timezone.localdate()
    table = WorkOrderTable(work_orders(), on=on)
    RequestConfig(request, paginate={"per_page": 50}).configure(table)
    return render(request, "inspections/workshop/list.html", {"table": table})


def work_order_detail(request, number):
    order = get_work_order_or_404(number)
    return render(request, "inspections/workshop/work_order.html", sheet_context(order, timezone.localdate()))


@may_log
def work_order_raise(request):
    """Asked with mats: their cables to choose from, those due ticked. Sent: one order per mat, or this page again."""
    on = timezone.localdate()
    ensure_assessed(on)
    if request.method != "POST":
        mats = AskForm(request.GET)
        found = mats.cleaned_data["mat"] if mats.is_valid() else []
        return _choose(request, on, found, due_segment_ids(found, on), mats)
    form = RaiseForm(request.POST)
    if form.is_valid():
        try:
            return redirect(
                act_once(form.cleaned_data["token"], by=request.user, act=lambda: _raise(request, form, on))
            )
        except ValidationError as refusal:
            form.add_error(None, refusal)
    chosen = [segment.pk for segment in form.cleaned_data.get("segments", [])]
    return _choose(request, on, mats_of_segments(chosen), chosen, form)


def _choose(request, on, mats, chosen, form):
    lines = due_lines(rows_of_mats(mats), on)
    shown = {"chosen": chosen, "exclude": ("next_event",), "look_ahead_days": look_ahead_days()}
    table = DueTable(lines, on=on, may_log=True, **shown)
    RequestConfig(request, paginate=False).configure(table)
    context = {"table": table, "mats": mats, "form": form, "once": OnceForm()}
    refused = request.method == "POST"
    return render(request, "inspections/workshop/raise.html", context, status=422 if refused else 200)


def _raise(request, form, on):
    chosen = {segment.pk for segment in form.cleaned_data["segments"]}
    if form.cleaned_data["whole_mats"]:
        chosen.update(due_segment_ids(mats_of_segments(chosen), on))
    orders = raise_work_orders(chosen, by=request.user, on=on)
    names = ", ".join(f"{order} for {order.mat}" for order in orders)
    messages.success(request, f"Raised: {names}.")
    return orders[0].get_absolute_url() if len(orders) == 1 else reverse("inspections:work-order-list")


@may_log
def work_order_withdraw(request, number):
    order, on = get_work_order_or_404(number), timezone.localdate()
    form = WithdrawForm(request.POST or None, initial={"version": order.version})
    if form.is_valid():
        try:
            values = form.cleaned_data
            withdraw_work_order(
                order, by=request.user, on=on, because=values["because"], seen_version=values["version"]
            )
            messages.success(request, f"{order} is withdrawn.")
            return redirect(order)
        except ValidationError as refusal:
            form.add_error(None, refusal)
    context = {"order": order, "form": form}
    return render(request, "inspections/workshop/withdraw.html", context, status=422 if form.is_bound else 200)
