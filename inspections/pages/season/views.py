"""The page of the season: mats against the weeks ahead."""

from django.shortcuts import render
from django.utils import timezone

from ...assessment.services import ensure_assessed
from .season_chart import season_chart
from .selectors import season


def season_page(request):
    on = timezone.localdate()
    ensure_assessed(on)
    ahead = season(on)
    return render(request, "inspections/pages/season/season.html", {"season": ahead, "chart": season_chart(ahead)})
