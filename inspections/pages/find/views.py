"""The page of results of the search box."""

from django.shortcuts import redirect, render

from fleet.views.pages import searched_text

from .selectors import find as look_up


def find(request):
    text = searched_text(request)
    found = look_up(text) if text else None
    if found and found.exact:
        return redirect(found.exact)
    return render(request, "inspections/pages/find/find.html", {"text": text, "found": found})
