"""What the limits in force cost a year, and what would be cheapest; the keeper says what work and events cost."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from fleet.access import MAY_KEEP
from fleet.views.pages import form_page, submit
from fleet.views.permissions import may_keep

from ..choices import SetOn
from ..policy.selectors import policy_page, policy_trail
from ..policy.services import change_policy
from .forms import CostForm
from .services import rule_costs
from .tables import design_costs


def costs(request):
    form = CostForm(request.POST or None, page=policy_page(timezone.localdate(), set_on=SetOn.COSTS))
    return _change(request, form) if request.method == "POST" else _page(request, form)


@may_keep
def _change(request, form):
    address = submit(request, form, partial(_save, request, timezone.localdate()))
    return redirect(address) if address else _page(request, form)


def _save(request, on, changes, reason):
    change_policy(changes, by=request.user, on=on, reason=reason)
    messages.success(request, "Saved. The costs go by it.")
    return reverse("inspections:rule-cost")


def _page(request, form):
    today = timezone.localdate()
    page = rule_costs(today, today)
    context = {
        "page": page,
        "designs": design_costs(page),
        "may_keep": request.user.has_perm(MAY_KEEP),
        "trail": policy_trail(set_on=SetOn.COSTS),
    }
    return form_page(request, "inspections/rule_cost/costs.html", form, **context)
