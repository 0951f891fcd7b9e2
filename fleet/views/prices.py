"""The price list: lines of cables and of sets; add, correct, delete."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from ..access import MAY_KEEP
from ..forms.prices import CablePriceForm, PriceCorrectionForm, PriceListForm, SetPriceForm
from ..forms.record_forms import ReasonForm, values_of
from ..selectors.prices import get_price_or_404, lead_times_of_types, prices_listed, trail_of_prices, unpriced_kinds
from ..selectors.register import designs_in_use
from ..selectors.segments import cable_types_to_choose
from ..selectors.trail import trail_of
from ..services.prices import add_price, add_price_list, correct_price, delete_price
from ..tables.prices import PriceTable
from .next_page import next_page
from .pages import form_page, link_to, list_page, submit
from .permissions import may_keep
from .record_pages import correct_page


def price_list(request):
    may_keep = request.user.has_perm(MAY_KEEP)
    table = PriceTable(prices_listed(), lead_times=lead_times_of_types(), may_keep=may_keep)
    context = {"unpriced": unpriced_kinds(timezone.localdate()), "trail": trail_of_prices()}
    return list_page(request, "fleet/price_list.html", table, **context)


@may_keep
def price_add(request):
    types = cable_types_to_choose(timezone.localdate())
    asked = {name: request.GET.get(name, "") for name in ("cable_type", "length_m")}
    form = CablePriceForm(request.POST or None, initial=asked, cable_types=types)
    return _add(request, form, "Add the price of a cable")


@may_keep
def price_paste(request):
    on = timezone.localdate()
    asked = request.GET.get("cable_type", "")
    lengths = [kind.length_m for kind in unpriced_kinds(on) if kind.cable_type == asked]
    initial = {"cable_type": asked, "lines": "".join(f"{length_m:.12g} \n" for length_m in lengths)}
    form = PriceListForm(request.POST or None, initial=initial, cable_types=cable_types_to_choose(on))
    address = submit(request, form, partial(_store_list, request))
    if address:
        return redirect(address)
    context = {"title": "Add a price list", "lead": "All lengths of one cable type at once.", "parent": _prices()}
    return form_page(request, "fleet/add.html", form, **context)


def _store_list(request, *, lines, cable_type):
    count = add_price_list(lines, by=request.user, cable_type=cable_type)
    messages.success(
        request, f"{count} price{'' if count == 1 else 's'} of {cable_type} {'is' if count == 1 else 'are'} added."
    )
    return _prices()["url"]


@may_keep
def price_add_set(request):
    form = SetPriceForm(request.POST or None, designs=designs_in_use(timezone.localdate()))
    return _add(request, form, "Add the price of a set", "One cable for each position of a design, bought as one.")


def _add(request, form, title, lead=""):
    back = next_page(request, _prices()["url"])
    address = submit(request, form, partial(_store, request, back))
    if address:
        return redirect(address)
    context = {"title": title, "lead": lead, "parent": _prices(), "back": back}
    return form_page(request, "fleet/add.html", form, **context)


def _store(request, back, **values):
    price = add_price(by=request.user, **values)
    messages.success(request, f"{price} is added.")
    return back


@may_keep
def price_correct(request, pk):
    price = get_price_or_404(pk)
    form = PriceCorrectionForm(request.POST or None, initial=values_of(price, PriceCorrectionForm))
    act = partial(correct_price, price, by=request.user)
    return correct_page(request, price, form, act, parent=_prices(), trail=trail_of)


@may_keep
def price_delete(request, pk):
    price = get_price_or_404(pk)
    form = ReasonForm(request.POST or None)
    if submit(request, form, partial(_delete, price, by=request.user), row=price) is not None:
        messages.success(request, f"{price} is deleted.")
        return redirect(price)
    return form_page(request, "fleet/price_delete.html", form, price=price, parent=_prices())


def _delete(price, **values):
    delete_price(price, **values)
    return True


def _prices():
    return link_to("fleet:price-list", "Prices")
