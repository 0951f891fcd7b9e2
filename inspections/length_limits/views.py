"""Limits by length, beside what today's limits do."""

from django.shortcuts import render
from django.utils import timezone

from fleet.access import MAY_KEEP

from ..assessment.policy_in_force import current_policy
from ..assessment.pool_fits import clock
from .forms import AskedForm
from .services import pool_limits
from .tables import design_limits
from .use_services import used_limits


def limits(request):
    today, policy = timezone.localdate(), current_policy()
    form = AskedForm(request.GET, own_clock=clock(policy))
    page = pool_limits(today, today, form.wear_clock)
    context = {
        "page": page,
        "form": form,
        "designs": design_limits(page),
        "limit_db": policy.value("loss_limit_db"),
        "used": used_limits(),
        "may_keep": request.user.has_perm(MAY_KEEP),
    }
    return render(request, "inspections/length_limits/limits.html", context)
