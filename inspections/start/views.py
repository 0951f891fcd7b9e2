"""Start here: the four questions, and what follows from their answers."""

from datetime import timedelta
from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from fleet.forms.asking import asks_of
from fleet.forms.record_forms import ask
from fleet.forms.start_page import StartForm
from fleet.forms.submissions import OnceForm
from fleet.selectors.shelf import shelf_by_kind
from fleet.selectors.start_here import kind_told_last, last_run
from fleet.selectors.usual_use import fewest_usual_months
from fleet.services.confirmation import UnusualValues
from fleet.services.submissions import answer_given
from fleet.views.pages import form_page, list_page, submit
from fleet.views.permissions import may_keep

from ..assessment.policy_in_force import current_policy, look_ahead_days
from ..assessment.services import ensure_assessed
from ..due.needed import cables_needed, totals
from ..due.selectors import EVERY_STATUS, counts_by_status, due_list, due_rows
from ..due.tables import DueTable, NeededTable
from ..due.unknown_selectors import count_unknown
from ..policy.notice_selectors import seldom_used
from .forms import FirstStartForm
from .selectors import first_to_change, has_mats, mats_understood, next_due_on
from .services import start_pool

PAGE = "inspections/start/start.html"
SEASON = timedelta(days=365)


@may_keep
def start_here(request):
    """The questions; then the mats that were understood; sent again from there, they are stored."""
    if answered := answer_given(request.POST.get("token")):
        return redirect(answered)
    on = timezone.localdate()
    form_class = StartForm if has_mats() else FirstStartForm
    if request.method != "POST":
        return form_page(request, PAGE, form_class(on=on, begins_with=kind_told_last()))
    form = form_class(request.POST, on=on)
    if form.act:
        fresh = form.after(form.act)
        return render(request, PAGE, {"form": fresh}, status=422 if fresh.wrong else 200)
    if not form.is_valid():
        return form_page(request, PAGE, form)
    if not form.is_understood:
        return _shown_before(request, form, on)
    if address := submit(request, form, partial(_start_pool, request, on, form.in_words)):
        return redirect(address)
    return _shown_before(request, form, on, 422) if form.is_valid() else form_page(request, PAGE, form)


def _shown_before(request, form, on, status=200):
    """What will be stored, with all that was typed; an unusual value is asked about here."""
    if status == 200 and (asks := asks_of(form, on)):
        ask(form, UnusualValues(asks), "")
    rows = mats_understood(form.told_groups, on)
    return render(request, "inspections/start/understood.html", {"form": form, "rows": rows}, status=status)


def _start_pool(request, on, in_words, groups, policy=None):
    """The first mats set the policy; further ones find it set."""
    start_pool(groups, policy or {}, by=request.user, on=on)
    messages.success(request, f"{in_words} added.")
    return reverse("inspections:start-answer")


def answer(request):
    """The due list by age and use, what to order, and the first work order one tap away."""
    on = timezone.localdate()
    ensure_assessed(on)
    ahead_days = look_ahead_days()
    days = [on, on + timedelta(days=ahead_days), on + SEASON]
    rows = due_list(status=EVERY_STATUS)
    needed = cables_needed(rows, days, shelf_by_kind(on))
    table = DueTable(due_rows(rows, on), on=on, may_bench=False, look_ahead_days=ahead_days)
    context = {
        "on": on,
        "counts": counts_by_status(),
        "needed": needed,
        "needed_table": NeededTable(needed, totals(needed), days, on=on),
        "seldom": seldom_used(on, current_policy()),
        "first": first_to_change(on),
        "next_due_on": next_due_on(),
        "unknown": count_unknown(),
        "once": OnceForm(),
        "usual_months": fewest_usual_months(),
        "run": last_run(),
    }
    return list_page(request, "inspections/start/answer.html", table, **context)
