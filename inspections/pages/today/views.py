"""The first page: what to do today."""

from django.shortcuts import render
from django.utils import timezone

from ...assessment.services import ensure_assessed
from ...backup.existing_backups import newest_copy
from .selectors import today


def first_page(request):
    on = timezone.localdate()
    ensure_assessed(on)
    return render(
        request, "inspections/pages/today/today.html", {"on": on, "today": today(on), "copy_age_days": newest_copy(on)}
    )
