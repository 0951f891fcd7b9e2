"""The policy: everybody may read it, the keeper sets it."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.access import MAY_KEEP
from fleet.views.permissions import may_keep

from ..assessment.runs import start_run
from .forms import PolicyForm
from .selectors import get_run_or_404, policy_page, policy_trail
from .services import change_policy


def policy(request):
    if request.method == "POST":
        return _change(request)
    return _page(request, PolicyForm(page=policy_page(timezone.localdate())))


@may_keep
def _change(request):
    on = timezone.localdate()
    form = PolicyForm(request.POST, page=policy_page(on))
    if form.is_valid():
        try:
            changes = form.changes()
            run = change_policy(changes, by=request.user, on=on, because=form.cleaned_data["because"])
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            return _changed(request, len(changes), run)
    return _page(request, form, status=422)


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


def _changed(request, count, run):
    if run:
        return redirect("inspections:policy-progress", pk=run.pk)
    what = "One value is" if count == 1 else f"{count} values are"
    messages.success(request, f"{what} changed, and what rests on {'it' if count == 1 else 'them'} is assessed again.")
    return redirect("inspections:policy")


def _page(request, form, status=200):
    context = {"form": form, "may_keep": request.user.has_perm(MAY_KEEP), "trail": policy_trail()}
    return render(request, "inspections/policy/policy.html", context, status=status)
