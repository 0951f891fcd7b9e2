"""The words of the app on one page."""

from django.shortcuts import render


def glossary(request):
    return render(request, "inspections/pages/glossary/glossary.html")
