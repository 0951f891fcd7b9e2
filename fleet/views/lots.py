"""Lots of cables: the list, and where everything of one lot is."""

from django.utils import timezone

from ..forms.shelf import LotFilter, LotForm
from ..selectors.lots import counts_of_lot, lots_listed, piles_of_lot, segments_of_lot
from ..tables.register import SegmentTable
from ..tables.shelf import LotTable
from .pages import list_page


def lot_list(request):
    form = LotFilter(request.GET)
    table = LotTable(lots_listed(timezone.localdate(), **form.chosen()))
    return list_page(request, "fleet/lot_list.html", table, form=form)


def lot(request):
    """Every cable of the lot: in a mat, on the shelf, withdrawn; and those that are counted without a serial."""
    on, form = timezone.localdate(), LotForm(request.GET)
    name = form.named
    context = {"form": form, "counts": counts_of_lot(name, on), "piles": piles_of_lot(name)}
    return list_page(request, "fleet/lot.html", SegmentTable(segments_of_lot(name, on), exclude=("lot",)), **context)
