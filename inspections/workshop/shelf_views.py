"""The page of the shelf."""

from datetime import timedelta

from django.shortcuts import render
from django.utils import timezone

from ..assessment.policy_in_force import look_ahead_days
from ..assessment.services import ensure_assessed
from .shelf_selectors import shelf_kinds
from .shelf_tables import ShelfTable


def shelf(request):
    on = timezone.localdate()
    ensure_assessed(on)
    last_day = on + timedelta(days=look_ahead_days())
    kinds = shelf_kinds(on, last_day)
    shown = {"spares": sum(kind.on_shelf for kind in kinds), "missing": sum(kind.missing for kind in kinds)}
    context = {"table": ShelfTable(kinds, last_day), "kinds": kinds, "last_day": last_day, **shown}
    return render(request, "inspections/workshop/shelf.html", context)
