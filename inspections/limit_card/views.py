"""The card of limits for those without a bench, made for paper."""

from django.shortcuts import render
from django.utils import timezone

from .services import limit_card
from .tables import CardTable


def card(request):
    found = limit_card(timezone.localdate())
    context = {"card": found, "table": CardTable(found) if found.rows else None}
    return render(request, "inspections/limit_card/card.html", context)
