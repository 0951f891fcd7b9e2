"""How long cables last, as the pool's own checks show it."""

from django.shortcuts import render
from django.utils import timezone

from fleet.selectors.mats import several_depots

from ..assessment.policy_in_force import current_policy
from .curve_chart import life_chart
from .forms import LivesForm
from .group_services import pool_life
from .tables import GroupTable, OtherwiseTable, curve_rows, numbers_of
from .trend_tables import TrendTable


def lives(request):
    form = LivesForm(request.GET, several_depots=several_depots())
    key = request.GET.get("group", "")
    page = pool_life(timezone.localdate(), form.chosen["clock"], form.chosen["by"], key)
    chosen = page.group(key)
    context = {
        "form": form,
        "page": page,
        "chosen": chosen,
        "table": GroupTable(page, chosen),
        "otherwise": OtherwiseTable(page) if page.otherwise else None,
        "chart": life_chart(chosen, page.risk),
        "by_trend": page.by_trend and TrendTable(page, chosen),
        "trend_chart": page.by_trend and life_chart(chosen, page.risk, page.by_trend.curve),
        "rows": curve_rows(chosen, page.ages),
        "numbers": numbers_of(chosen.life),
        "limit_db": current_policy().value("loss_limit_db"),
    }
    return render(request, "inspections/pool_life/lives.html", context)
