"""How to measure: each method as a drawing, the steps at the bench, and what a first reading should be."""

from django.shortcuts import render
from django.utils import timezone

from ..numeric.methods import DEFAULT_UNCERTAINTY_DB
from ..numeric.words import InstrumentKind
from .guide_selectors import first_readings
from .guide_tables import FirstReadingTable, UncertaintyTable
from .verdicts import criteria_of_design


def how_to_measure(request):
    criteria = criteria_of_design(None)
    rows = first_readings(criteria, timezone.localdate())
    by_kind = [(kind.value, DEFAULT_UNCERTAINTY_DB.get(kind)) for kind in InstrumentKind]
    context = {"criteria": criteria, "first_readings": FirstReadingTable(rows), "kinds": UncertaintyTable(by_kind)}
    return render(request, "inspections/bench/guide/how_to_measure.html", context)
