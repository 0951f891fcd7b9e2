"""Cables to buy: the page, on paper, and as a file."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.access import MAY_KEEP

from ..assessment.services import ensure_assessed
from ..due.selectors import count_assessed
from .chance_services import more_by_chance
from .csv_tables import buying_csv
from .plan_selectors import purchase_plan
from .tables import CoveredTable, KindTable, MonthTable, PaperTable, SetTable


def buy(request):
    plan, context = _planned(request)
    context["more"] = more_by_chance(plan, count_assessed())
    return render(request, "inspections/buying/buy.html", context)


def buy_print(request):
    plan, context = _planned(request)
    context |= {"sets": SetTable(plan.bought_sets, on=plan.on), "paper": PaperTable(context["short"], on=plan.on)}
    return render(request, "inspections/buying/print.html", context)


def buy_csv(request):
    plan, _ = _planned(request)
    name = f"cables-to-buy-{plan.on:%Y-%m-%d}.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(buying_csv(plan), content_type="text/csv; charset=utf-8", headers=headers)


def _soonest_first(kind):
    """By the day to order; without one, by the day when it is missing."""
    return kind.buy_by or kind.first_on, kind.kind


def _planned(request):
    """(the Plan as of today, what its pages show)."""
    on, may_keep = timezone.localdate(), request.user.has_perm(MAY_KEEP)
    ensure_assessed(on)
    plan = purchase_plan(on)
    short = sorted((kind for kind in plan.kinds if kind.to_buy), key=_soonest_first)
    covered = [kind for kind in plan.kinds if not kind.to_buy]
    return plan, {
        "plan": plan,
        "short": short,
        "kinds": KindTable(short, on=on, may_keep=may_keep),
        "covered": CoveredTable(covered) if covered else None,
        "sets": SetTable(plan.sets, on=on) if plan.sets else None,
        "months": MonthTable(plan),
    }
