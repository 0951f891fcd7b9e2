"""The due list, on the page, as a file and on paper."""

from datetime import timedelta

from django.http import StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.access import MAY_BENCH
from fleet.forms.submissions import OnceForm
from fleet.selectors.shelf import shelf_by_kind, shelf_near
from fleet.views.pages import list_page

from ..assessment.assumptions import assumptions_of
from ..assessment.policy_in_force import current_policy
from ..assessment.services import ensure_assessed
from ..policy.notice_selectors import notices
from ..trend.summary import newer_readings
from .csv_tables import due_csv_lines
from .depot_pages import MOST_ROWS, depot_pages
from .forms import DueFilterForm
from .line_selectors import by_status, counts_with_mats, lines_among
from .line_tables import LineTable, PaperLines
from .month_chart import month_chart
from .month_selectors import coming_due
from .needed import cables_needed, totals
from .selectors import (
    EVERY_STATUS,
    count_assessed,
    counts_and_kinds,
    depots_with_mats,
    due_list,
    due_rows,
    owners_of_mats,
)
from .tables import DueTable, NeededTable

# what an address may ask for that narrows nothing
WHOLE_LIST = {"by"}


def due_page(request):
    on = timezone.localdate()
    ensure_assessed(on)
    form, policy = _filters(request, on), current_policy()
    ahead_days = policy.value("look_ahead_days")
    of_any_status = due_list(**form.filters() | {"status": EVERY_STATUS})
    counts, kinds = counts_and_kinds(of_any_status)
    shown = counts_with_mats(due_list(**form.filters()))
    context = {
        "form": form,
        "narrowed": not set(request.GET) <= WHOLE_LIST,
        "counts": counts,
        "kinds": kinds,
        "shown": sum(count.cables for count in shown.values()),
        "total": count_assessed(),
        "once": OnceForm(),
        "newer_readings": newer_readings(),
        **_notices(request, on, policy),
        **_needed(form, on, ahead_days),
        **_coming(form, on),
    }
    as_seen = {"on": on, "may_bench": request.user.has_perm(MAY_BENCH), "look_ahead_days": ahead_days}
    table = _table(form, shown, kinds, policy=policy, **as_seen)
    return list_page(request, "inspections/due/list.html", table, **context)


def _table(form, counts, kinds, *, on, **as_seen):
    if form.by_cable:
        return DueTable(_chosen_rows(form, on), on=on, **as_seen)
    return LineTable(due_list(**form.filters()), counts=counts, kinds=kinds, on=on, **as_seen)


def _notices(request, on, policy):
    """Of the limits, where somebody looks at the whole list: beside a narrowed or later page they get old."""
    return {"notices": notices(on, policy)} if set(request.GET) <= WHOLE_LIST else {}


def due_print(request):
    """On paper, depot by depot."""
    on = timezone.localdate()
    ensure_assessed(on)
    form = _filters(request, on)
    rows, policy = list(_chosen_rows(form, on)[:MOST_ROWS]), current_policy()
    ahead_days = policy.value("look_ahead_days")
    until, days = _days(form, on, ahead_days)
    assumptions = assumptions_of(rows, on, policy)
    depots = depot_pages(rows, days, shelf_by_kind(on))
    context = {
        "on": on,
        "until": until,
        "depots": depots,
        "pages": [(page, PaperLines(by_status(lines_among(page.rows)), assumptions, ahead_days)) for page in depots],
        "days": days,
        "cut_off_at": f"{MOST_ROWS:,}" if len(rows) == MOST_ROWS else "",
        "query": request.GET.urlencode(),
    }
    return render(request, "inspections/due/print.html", context)


def due_csv(request):
    on = timezone.localdate()
    ensure_assessed(on)
    lines = due_csv_lines(_chosen_rows(_filters(request, on), on))
    name = f"due-{on:%Y-%m-%d}.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8", headers=headers)


def _filters(request, on):
    return DueFilterForm(request.GET, on=on, depots=depots_with_mats(on), owners=owners_of_mats(on))


def _days(form, on, ahead_days):
    """(the day asked for or None, the days by which cables are counted): today and that day, or the look-ahead."""
    until = form.filters().get("until")
    return until, sorted({on, until or on + timedelta(days=ahead_days)})


def _needed(form, on, ahead_days):
    """Cables needed by length, where somebody asks for a day; counting a whole pool would keep the others waiting."""
    until, days = _days(form, on, ahead_days)
    shown = {"on": on, "until": until, "needed_days": days}
    if not until:
        return shown
    shelf = shelf_near(form.filters().get("depot"), on)
    needed = cables_needed(due_list(**form.filters()), days, shelf)
    table = NeededTable(needed, totals(needed), days, on=on)
    return shown | {"needed": needed, "needed_totals": totals(needed), "needed_table": table}


def _coming(form, on):
    """Month by month, beside the cables needed; of what the filters leave, whatever its day."""
    filters = form.filters()
    if not filters.get("until"):
        return {}
    narrowed = any(value for name, value in filters.items() if name != "until")
    # the shelf is there for the whole pool
    shelf = None if narrowed else shelf_by_kind(on)
    coming = coming_due(due_list(**filters | {"until": None, "status": EVERY_STATUS}), on, shelf)
    return {"coming": coming, "months": month_chart(coming)}


def _chosen_rows(form, on):
    return due_rows(due_list(**form.filters()), on)
