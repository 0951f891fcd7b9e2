"""The policy: everybody may read it, the keeper sets it."""

from functools import partial

from django.contrib import messages
from django.db import transaction
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.access import MAY_KEEP
from fleet.views.pages import form_page, submit
from fleet.views.permissions import may_keep

from ..assessment.runs import start_run
from .forms import PolicyForm
from .selectors import get_run_or_404, policy_page, policy_trail
from .services import change_policy
from .tables import owner_table


def policy(request):
    if request.method == "POST":
        return _change(request)
    return _page(request, PolicyForm(page=policy_page(timezone.localdate())))


@may_keep
def _change(request):
    on = timezone.localdate()
    form = PolicyForm(request.POST, page=policy_page(on))
    address = submit(request, form, partial(_save, request, on))
    return redirect(address) if address else _page(request, form)


def _save(request, on, changes, reason):
    run = change_policy(changes, by=request.user, on=on, reason=reason)
    if run:
        return reverse("inspections:policy-progress", args=[run.pk])
    what, it = ("One value is", "it") if len(changes) == 1 else (f"{len(changes)} values are", "them")
    messages.success(request, f"{what} changed, and what depends on {it} is assessed again.")
    return reverse("inspections:policy")


def progress(request, pk):
    """How far an assessment of the pool is; the fragment asks again by itself, the page without scripts reloads."""
    run = get_run_or_404(pk)
    seconds = int(((run.finished_at or timezone.now()) - run.started_at).total_seconds())
    template = "inspections/assessment/_assessing.html" if request.htmx else "inspections/assessment/assessing.html"
    return render(request, template, {"run": run, "seconds": seconds})


@may_keep
@require_POST
def assess_again(request):
    with transaction.atomic():
        run = start_run(by=request.user, on=timezone.localdate())
    return redirect("inspections:policy-progress", pk=run.pk)


def _page(request, form):
    context = {
        "may_keep": request.user.has_perm(MAY_KEEP),
        "designs": owner_table(form.design_rows, "Design"),
        "depots": owner_table(form.depot_rows, "Depot"),
        "trail": policy_trail(),
    }
    return form_page(request, "inspections/policy/policy.html", form, **context)
