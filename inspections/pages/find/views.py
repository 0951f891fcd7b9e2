"""The page of results of the search box."""

from django.shortcuts import redirect, render

from .selectors import find as look_up


def find(request):
    text = request.GET.get("q", "").strip()
    found = look_up(text) if text else None
    if found and found.exact:
        return redirect(found.exact)
    return render(request, "inspections/pages/find/find.html", {"text": text, "found": found})
