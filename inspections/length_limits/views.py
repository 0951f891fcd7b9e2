"""Limits by length, beside what today's limits do."""

from django.shortcuts import render
from django.utils import timezone

from fleet.access import MAY_KEEP

from ..assessment.policy_in_force import current_policy
from .services import pool_limits
from .tables import design_limits


def limits(request):
    today = timezone.localdate()
    page = pool_limits(today, today)
    context = {
        "page": page,
        "designs": design_limits(page),
        "limit_db": current_policy().value("loss_limit_db"),
        "may_keep": request.user.has_perm(MAY_KEEP),
    }
    return render(request, "inspections/length_limits/limits.html", context)
