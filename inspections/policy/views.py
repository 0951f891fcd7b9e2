"""The policy: everybody may read it, the keeper sets it, and sees what would change before it is saved."""

from functools import partial

from django.contrib import messages
from django.db import transaction
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.encoding import escape_uri_path
from django.views.decorators.http import require_POST

from fleet.access import MAY_KEEP
from fleet.views.pages import form_page, submit
from fleet.views.permissions import may_keep

from ..assessment.runs import pool_is_large, start_run
from ..bench.no_bench_selectors import benches_not_said
from .forms import DesignPolicyForm, LongerThanForm, PolicyForm
from .preview_services import preview
from .selectors import design_policy_page, get_run_or_404, policy_page, policy_trail, positions_with_values
from .services import change_policy
from .tables import design_table, owner_table, position_table


def policy(request):
    form = partial(PolicyForm, page=policy_page(timezone.localdate()))
    if request.method == "POST":
        return _change(request, form(request.POST), _pool_page)
    return _pool_page(request, *_proposed(request, form()))


def design_policy(request, code):
    """Limits of one design and of each of its positions."""
    page = design_policy_page(code)
    form = partial(DesignPolicyForm, page=page)
    if request.method == "POST" and "fill" in request.POST:
        return _fill_in(request, form(request.POST), LongerThanForm(request.POST, page=page))
    if request.method == "POST":
        return _change(request, form(request.POST), _design_page)
    if "longer_than_m" in request.GET and request.user.has_perm(MAY_KEEP):
        return _fill_in(request, form().filled_in(request.GET), LongerThanForm(request.GET, page=page))
    return _design_page(request, *_proposed(request, form()))


@may_keep
def _change(request, form, page):
    if "preview" in request.POST:
        return page(request, form, _previewed(form))
    address = submit(request, form, partial(_save, request, timezone.localdate()))
    return redirect(address) if address else page(request, form)


@may_keep
def _fill_in(request, form, longer):
    """What is asked for all longer positions, typed into their fields, with what would change; not saved."""
    if not longer.is_valid():
        return _design_page(request, form, None, longer)
    form = form.filled_in(longer.typed)
    return _design_page(request, form, _previewed(form), longer)


def _proposed(request, form):
    """(form, preview): with the values that the address proposes, and what they would change."""
    if not (request.user.has_perm(MAY_KEEP) and form.slots.keys() & request.GET.keys()):
        return form, None
    filled = form.filled_in(request.GET)
    return filled, _previewed(filled)


def _previewed(form):
    return preview(form.changes(), timezone.localdate()) if form.is_valid() else None


def _save(request, on, changes, reason):
    run = change_policy(changes, by=request.user, on=on, reason=reason)
    if run:
        return reverse("inspections:policy-progress", args=[run.pk])
    what, it = ("One value is", "it") if len(changes) == 1 else (f"{len(changes)} values are", "them")
    messages.success(request, f"{what} changed, and what depends on {it} is assessed again.")
    return escape_uri_path(request.path)


def progress(request, pk):
    """How far an assessment of the pool is; the fragment asks again by itself, the page without scripts reloads."""
    run = get_run_or_404(pk)
    seconds = int(((run.finished_at or timezone.now()) - run.started_at).total_seconds())
    template = "inspections/assessment/_assessing.html" if request.htmx else "inspections/assessment/assessing.html"
    is_news = bool(request.htmx) and request.GET.get("seen") != run.stage
    return render(request, template, {"run": run, "seconds": seconds, "is_news": is_news})


@may_keep
@require_POST
def assess_again(request):
    with transaction.atomic():
        run = start_run(by=request.user, on=timezone.localdate())
    return redirect("inspections:policy-progress", pk=run.pk)


def _pool_page(request, form, shown=None):
    context = {
        "designs": design_table(form.design_rows, positions_with_values()),
        "benches": benches_not_said(timezone.localdate()),
        "depots": owner_table(form.depot_rows, "Depot"),
        "trail": policy_trail(),
    }
    return _page(request, "inspections/policy/policy.html", form, shown, **context)


def _design_page(request, form, shown=None, longer=None):
    design = form.page.design
    context = {
        "design": design,
        "longer": longer or LongerThanForm(page=form.page),
        "positions": position_table(form.position_rows),
        "trail": policy_trail(design),
    }
    return _page(request, "inspections/policy/design.html", form, shown, **context)


def _page(request, template, form, shown, **context):
    context |= {"may_keep": request.user.has_perm(MAY_KEEP), "preview": shown, "large": pool_is_large()}
    if shown or request.method != "POST":
        return render(request, template, {"form": form, **context})
    return form_page(request, template, form, **context)
