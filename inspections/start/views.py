"""Start here: the four questions, and what follows from their answers."""

from datetime import timedelta

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django_tables2 import RequestConfig

from fleet.forms.record_forms import add_refusal
from fleet.forms.submissions import OnceForm
from fleet.services.submissions import act_once
from fleet.views.permissions import may_keep

from ..assessment.policy import look_ahead_days
from ..assessment.services import ensure_assessed
from ..due.needed import cables_needed, totals
from ..due.selectors import counts_by_standing, due_lines, due_list
from ..due.tables import DueTable
from .forms import FirstGroupForm, FurtherGroupForm
from .selectors import first_to_change, has_mats, next_due_on
from .services import begin

SEASON = timedelta(days=365)


@may_keep
def start_here(request):
    on = timezone.localdate()
    form = (FurtherGroupForm if has_mats() else FirstGroupForm)(request.POST or None, on=on)
    if "propose" in request.POST:
        form = form.with_lengths()
    elif form.is_valid():
        try:
            return redirect(
                act_once(form.cleaned_data["token"], by=request.user, act=lambda: _begin(request, form, on))
            )
        except ValidationError as refused:
            add_refusal(form, refused)
    return render(request, "inspections/start/start.html", {"form": form}, status=422 if form.is_bound else 200)


def _begin(request, form, on):
    mats = begin(form.group, form.policy, by=request.user, on=on)
    cables = len(mats) * len(form.group.lengths_m)
    messages.success(request, f"{len(mats)} mat{'s' * (len(mats) != 1)} with {cables} cables on record.")
    return reverse("inspections:start-answer")


def answer(request):
    """The due list by age and use, what to order, and the first work order one tap away."""
    on = timezone.localdate()
    ensure_assessed(on)
    ahead_days = look_ahead_days()
    days = [on, on + timedelta(days=ahead_days), on + SEASON]
    rows = due_list(standing="all")
    needed = cables_needed(rows, days)
    table = DueTable(due_lines(rows, on), on=on, may_log=False, look_ahead_days=ahead_days)
    RequestConfig(request, paginate={"per_page": 50}).configure(table)
    context = {
        "on": on,
        "table": table,
        "counts": counts_by_standing(),
        "needed": needed,
        "needed_days": days,
        "needed_totals": totals(needed),
        "first": first_to_change(on),
        "next_due_on": next_due_on(),
        "once": OnceForm(),
    }
    return render(request, "inspections/start/answer.html", context)
