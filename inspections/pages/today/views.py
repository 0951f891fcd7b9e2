"""The first page: what to do today."""

from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.services.rows import acknowledge_renamed_codes
from fleet.views.permissions import may_keep

from ...assessment.services import ensure_assessed
from ...backup.clock import clock_warning
from ...backup.elsewhere import elsewhere
from ...backup.newest import newest_backup, newest_backup_ahead
from ...policy.notice_selectors import foremost_notice
from .selectors import today


def first_page(request):
    now = timezone.localtime()
    on, wrong_clock = now.date(), clock_warning(now)
    ensure_assessed(on)
    context = {"on": on, "today": today(on), "wrong_clock": wrong_clock}
    context |= {"backup": newest_backup(on), "backup_ahead": newest_backup_ahead(on)}
    context |= {"now": now, "elsewhere": elsewhere()}
    context["notices"] = foremost_notice(on)
    return render(request, "inspections/pages/today/today.html", context)


@may_keep
@require_POST
def renamed_codes_seen(request):
    acknowledge_renamed_codes()
    return redirect("inspections:today")
