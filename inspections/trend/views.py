"""The pool's page: what the fitted trend says, and what it does not."""

from django.shortcuts import render
from django.utils import timezone

from ..assessment.policy_in_force import current_policy
from ..assessment.services import ensure_assessed
from ..choices import SETTINGS
from .charts import day_chart, length_chart
from .summary import pool_trend_page, segments_off_trend


def pool_page(request):
    on, policy = timezone.localdate(), current_policy()
    ensure_assessed(on)
    page, limit_db = pool_trend_page(on), policy.value("loss_limit_db")
    until = _drawn_until(policy, by_events=page and page.per == "event")
    context = {
        "page": page,
        "limit_db": limit_db,
        "lengths": length_chart(page.lengths, limit_db, until) if page and page.lengths else None,
        "days": day_chart(page.days, page.named_days) if page else None,
        "off_trend": segments_off_trend(),
    }
    return render(request, "inspections/trend/pool.html", context)


def _drawn_until(policy, *, by_events):
    """To the event limit, or to twice the age limit; to those of the defaults where they are off."""
    name, times = ("event_limit", 1) if by_events else ("age_limit_years", 2)
    return times * (policy.value(name) or SETTINGS[name].default)
