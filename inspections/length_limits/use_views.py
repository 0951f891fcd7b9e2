"""Put limits by length into the policy: what would change is shown first; and take them back."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.access import MAY_KEEP, name_of
from fleet.forms.record_forms import ReasonForm
from fleet.selectors.trail import trail_of
from fleet.services.submissions import answer_given
from fleet.views.pages import form_page, submit
from fleet.views.permissions import may_keep

from ..assessment.policy_in_force import current_policy
from ..assessment.pool_fits import clock
from ..assessment.services import ensure_assessed
from ..policy.preview_services import preview
from .forms import AskedForm, UseForm
from .proposal_services import mark_of, proposed_of
from .services import pool_limits
from .use_services import get_used_or_404, going_back, take_back, use_limits


@may_keep
def use(request):
    """The address says which limits; the form sends them, by the mark of what was shown."""
    if answered := answer_given(request.POST.get("token")):
        return redirect(answered)
    today = timezone.localdate()
    ensure_assessed(today)
    own_clock = clock(current_policy())
    page = pool_limits(today, today, AskedForm(request.GET, own_clock=own_clock).wear_clock)
    asked = AskedForm(request.GET, own_clock=own_clock, designs=sorted({row.design.code for row in page.rows}))
    proposed = proposed_of(page, **asked.asked)
    form = UseForm(request.POST or None, mark=mark_of(proposed))
    if address := submit(request, form, partial(_use, request, today, page.clock, proposed)):
        return redirect(address)
    context = {"page": page, "asked": asked, "proposed": proposed}
    context["preview"] = preview([each.change for each in proposed], today) if proposed else None
    return form_page(request, "inspections/length_limits/use.html", form, **context)


def used(request, pk):
    act = get_used_or_404(pk)
    may_take_back = request.user.has_perm(MAY_KEEP) and not act.taken_back_on
    context = {"used": act, "by": name_of(act.recorded_by), "trail": trail_of(act), "may_take_back": may_take_back}
    return render(request, "inspections/length_limits/used.html", context)


@may_keep
def take_limits_back(request, pk):
    act, today = get_used_or_404(pk), timezone.localdate()
    ensure_assessed(today)
    form = ReasonForm(request.POST or None)
    if submit(request, form, partial(take_back, act, by=request.user, on=today), row=act) is not None:
        messages.success(request, "The limits are taken back, and what depends on them is assessed again.")
        return redirect(act)
    changes = going_back(act)
    context = {"used": act, "preview": preview(changes, today) if changes else None}
    context["stay"] = len(act.lines) - len(changes)
    return form_page(request, "inspections/length_limits/take_back.html", form, **context)


def _use(request, on, wear_clock, proposed, *, reason):
    act = use_limits(proposed, wear_clock=wear_clock, by=request.user, on=on, reason=reason)
    messages.success(request, "The limits are used, and what depends on them is assessed again.")
    return act.get_absolute_url()
