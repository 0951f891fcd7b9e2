"""The calendar of the work on the table: as a page, on paper week by week, and the days of work."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from fleet.access import signed_in_by_link
from fleet.views.pages import form_page, submit
from fleet.views.permissions import may_keep

from ..assessment.policy_in_force import look_ahead_days
from ..assessment.services import ensure_assessed
from ..choices import SetOn
from ..due.selectors import depots_with_mats
from ..policy.selectors import policy_page, policy_trail
from ..policy.services import change_policy
from .forms import DepotFilter, WeekFilter, WorkDaysForm
from .plan_selectors import depot_plans
from .tables import MatWorkTable, WorkDaysTable
from .week_selectors import first_monday, week_pages


def calendar(request):
    form, on, plans = _asked(request, DepotFilter)
    context = {
        "form": form,
        "on": on,
        "plans": [(plan, MatWorkTable(plan.works, on=on)) for plan in plans],
        "late": [work for plan in plans for work in plan.late],
        "mats": len({work.mat for plan in plans for work in plan.works}),
        "cables": sum(plan.cables for plan in plans),
        "first_monday": first_monday(plans),
        "days": look_ahead_days(),
        "several": len(plans) > 1,
        "may_share": not signed_in_by_link(request),
    }
    return render(request, "inspections/calendar/calendar.html", context)


def week(request):
    """One week on paper, a page for each depot."""
    form, on, plans = _asked(request, WeekFilter)
    context = {"form": form, "on": on, "monday": form.monday, "pages": week_pages(plans, form.monday)}
    return render(request, "inspections/calendar/week.html", context)


@may_keep
def work_days(request):
    on = timezone.localdate()
    form = WorkDaysForm(request.POST or None, page=policy_page(on, set_on=SetOn.WORK_DAYS))
    address = submit(request, form, partial(_save, request, on))
    if address:
        return redirect(address)
    context = {"table": WorkDaysTable(form.rows), "trail": policy_trail(set_on=SetOn.WORK_DAYS), "may_keep": True}
    return form_page(request, "inspections/calendar/work_days.html", form, **context)


def _save(request, on, changes, reason):
    change_policy(changes, by=request.user, on=on, reason=reason)
    messages.success(request, "Saved. The calendar below goes by it.")
    return reverse("inspections:calendar")


def _asked(request, filters):
    on = timezone.localdate()
    ensure_assessed(on)
    form = filters(request.GET, on=on, depots=depots_with_mats(on))
    return form, on, depot_plans(on, depot=form.of_depot)
