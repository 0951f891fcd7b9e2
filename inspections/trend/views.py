"""The pool's page: what to do for the trend, what it says, and what it cannot know."""

from django.shortcuts import render
from django.utils import timezone

from ..assessment.policy_in_force import current_policy
from ..assessment.services import ensure_assessed
from ..numeric.verdicts import guard_band_db
from .change_chart import change_chart
from .change_selectors import changes_of_cables
from .day_chart import day_chart
from .length_chart import length_chart
from .summary import pool_trend_page


def pool_page(request):
    on, policy = timezone.localdate(), current_policy()
    limit_db, uncertainty_db = policy.value("loss_limit_db"), policy.value("reading_uncertainty_db")
    guard_db = guard_band_db(uncertainty_db)
    ensure_assessed(on)
    page, changes = pool_trend_page(on), changes_of_cables(on, policy)
    fitted = page is not None and page.fit is not None
    context = {
        "page": page,
        "on": on,
        "limit_db": limit_db,
        "uncertainty_db": uncertainty_db,
        "guard_db": guard_db,
        "lengths": length_chart(page.cables, page.lines, limit_db, guard_db) if fitted else None,
        "changes": changes,
        "drawn": change_chart(changes),
        "days": day_chart(page.days, page.named_days) if fitted else None,
    }
    return render(request, "inspections/trend/pool.html", context)
