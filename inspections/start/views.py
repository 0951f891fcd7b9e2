"""Start here: the four questions, and what follows from their answers."""

from datetime import timedelta
from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from fleet.forms.start_here import MatGroupForm
from fleet.forms.submissions import OnceForm
from fleet.selectors.usual_use import fewest_usual_months
from fleet.views.pages import form_page, list_page, submit
from fleet.views.permissions import may_keep

from ..assessment.policy_in_force import look_ahead_days
from ..assessment.services import ensure_assessed
from ..due.needed import cables_needed, totals
from ..due.selectors import EVERY_STATUS, counts_by_status, due_list, due_rows
from ..due.tables import DueTable, NeededTable
from ..due.unknown_selectors import count_unknown
from ..policy.notice_selectors import seldom_used
from .forms import FirstGroupForm
from .selectors import first_to_change, has_mats, next_due_on
from .services import start_pool

SEASON = timedelta(days=365)


@may_keep
def start_here(request):
    on = timezone.localdate()
    form = (MatGroupForm if has_mats() else FirstGroupForm)(request.POST or None, on=on)
    if "propose" in request.POST:
        form = form.with_lengths()
    elif address := submit(request, form, partial(_start_pool, request, on)):
        return redirect(address)
    return form_page(request, "inspections/start/start.html", form)


def _start_pool(request, on, group, policy=None):
    """The first group sets the policy; a further one finds it set."""
    mats = start_pool(group, policy or {}, by=request.user, on=on)
    cables = len(mats) * len(group.lengths_m)
    messages.success(request, f"{len(mats)} mat{'s' * (len(mats) != 1)} with {cables} cables added.")
    return reverse("inspections:start-answer")


def answer(request):
    """The due list by age and use, what to order, and the first work order one tap away."""
    on = timezone.localdate()
    ensure_assessed(on)
    ahead_days = look_ahead_days()
    days = [on, on + timedelta(days=ahead_days), on + SEASON]
    rows = due_list(status=EVERY_STATUS)
    needed = cables_needed(rows, days)
    table = DueTable(due_rows(rows, on), on=on, may_bench=False, look_ahead_days=ahead_days)
    context = {
        "on": on,
        "counts": counts_by_status(),
        "needed": needed,
        "needed_table": NeededTable(needed, totals(needed), days, on=on),
        "seldom": seldom_used(on),
        "first": first_to_change(on),
        "next_due_on": next_due_on(),
        "unknown": count_unknown(),
        "once": OnceForm(),
        "usual_months": fewest_usual_months(),
    }
    return list_page(request, "inspections/start/answer.html", table, **context)
