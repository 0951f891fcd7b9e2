"""The pool's page: what to do for the trend, what it says, and what it cannot know."""

from django.shortcuts import render
from django.utils import timezone

from ..assessment.policy_in_force import current_policy
from ..assessment.services import ensure_assessed
from .day_chart import day_chart
from .length_chart import length_chart
from .summary import pool_trend_page


def pool_page(request):
    on, limit_db = timezone.localdate(), current_policy().value("loss_limit_db")
    ensure_assessed(on)
    page = pool_trend_page(on)
    fitted = page is not None and page.fit is not None
    context = {
        "page": page,
        "on": on,
        "limit_db": limit_db,
        "lengths": length_chart(page.cables, page.lines, limit_db) if fitted else None,
        "days": day_chart(page.days, page.named_days) if fitted else None,
    }
    return render(request, "inspections/trend/pool.html", context)
