"""Labels for mats and cables: which, on which sheet, and the sheets for paper."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.templatetags.lengths import length_in_m
from fleet.views.pool_address import only_from_here, pool_address

from .forms import LabelForm
from .grid_choices import A4, LETTER
from .selectors import MATS, cables_to_label, depots_with_mats, mats_to_label
from .sheets_chart import SMALLEST_SQUARE_MM, Label, label_sheets

# a page of more takes long to draw, and nobody sticks more in a day
MOST_LABELS = 600


def choose_labels(request):
    """The form; an address may fill fields of it in. Nothing is said against what nobody sent yet."""
    on = timezone.localdate()
    form = LabelForm(initial=request.GET.dict(), depots=depots_with_mats(on), on=on)
    return _form_page(request, form)


def print_labels(request):
    on = timezone.localdate()
    form = LabelForm(request.GET, depots=depots_with_mats(on), on=on)
    if not form.is_valid():
        return _form_page(request, form)
    labels = _labels(form.cleaned_data, on, pool_address(request))
    if not labels:
        return _form_page(request, form, none=True)
    copied = [label for label in labels for _ in range(form.cleaned_data["copies"])]
    sheets = label_sheets(copied[:MOST_LABELS], form.grid, first=form.cleaned_data["first"], shift_mm=form.shift_mm)
    context = {
        "sheets": sheets,
        "grid": form.grid,
        "count": min(len(copied), MOST_LABELS),
        "left_out": max(len(copied) - MOST_LABELS, 0),
        "outlines": form.cleaned_data["outlines"],
        "small": min(label.scale for sheet in sheets for label in sheet.labels) < SMALLEST_SQUARE_MM,
        "query": request.GET.urlencode(),
        "unreachable": only_from_here(pool_address(request)),
    }
    return render(request, "inspections/labels/sheets.html", context)


def paper(request):
    """The style sheet beside the sheets: their paper, to its very edges."""
    size = LETTER if request.GET.get("size") == LETTER else A4
    return HttpResponse(f"@page {{ size: {size}; margin: 0; }}\n", content_type="text/css")


def _form_page(request, form, **context):
    context |= {"address": pool_address(request), "unreachable": only_from_here(pool_address(request))}
    return render(request, "inspections/labels/choose.html", {"form": form, **context})


def _labels(values, on, address):
    chosen = {name: values.get(name) for name in ("mats", "depot")}
    if values["what"] == MATS:
        return [_of_mat(mat, address) for mat in mats_to_label(on, **chosen)]
    cables = cables_to_label(values["what"], on, serials=values["serials"], **chosen)
    return [_of_cable(cable, address) for cable in cables]


def _of_mat(mat, address):
    return Label(mat.number, mat.design.code, address + mat.get_absolute_url())


def _of_cable(cable, address):
    return Label(cable.serial, f"{length_in_m(cable)} · {cable.cable_type}", address + cable.get_absolute_url())
