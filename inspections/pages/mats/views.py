"""The list of mats with how they stand; it stands in the place of fleet's own."""

from django.utils import timezone

from fleet.selectors.mats import depots_of_mats, designs_to_choose, mats_listed, owners_known, several_depots
from fleet.views.pages import list_page

from ...assessment.condition_selectors import MatStatuses
from ...assessment.policy_in_force import look_ahead_days
from ...assessment.services import ensure_assessed
from .forms import MatConditionFilter
from .selectors import of_status, with_order
from .tables import MatTable


def mat_list(request):
    on = timezone.localdate()
    ensure_assessed(on)
    form = MatConditionFilter(
        request.GET, on=on, depots=depots_of_mats(), designs=designs_to_choose(on), owners=owners_known()
    )
    chosen = form.chosen()
    day, status = chosen.pop("day", on), chosen.pop("status", None)
    mats = mats_listed(on, **chosen)
    statuses = MatStatuses(mats, day)
    rows = with_order(of_status(mats, statuses, status) if status else mats, statuses, on)
    several = several_depots()
    table = MatTable(rows, statuses=statuses, on=on, days=look_ahead_days(), several_depots=several)
    context = {"form": form, "day": day, "on": on, "status": status, "counts": statuses.counts}
    return list_page(request, "inspections/pages/mats/list.html", table, several_depots=several, **context)
