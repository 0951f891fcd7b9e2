"""The instruments of the bench: the list, add, correct, withdraw."""

from functools import partial

from django.urls import reverse
from django.utils import timezone

from fleet.access import MAY_KEEP
from fleet.forms.record_forms import values_of
from fleet.selectors.trail import trail_of
from fleet.services.register import withdraw_plain
from fleet.services.rows import add_row
from fleet.views.pages import link_to, list_page
from fleet.views.permissions import may_keep
from fleet.views.record_pages import add_page, correct_page, withdraw_page

from ...models import Instrument
from .forms import InstrumentCorrectionForm, InstrumentForm
from .selectors import all_instruments, get_instrument_or_404, repeatability_of
from .services import correct_instrument
from .tables import InstrumentTable


def list_instruments(request):
    table = InstrumentTable(all_instruments(), may_keep=request.user.has_perm(MAY_KEEP))
    return list_page(request, "inspections/bench/instruments/list.html", table)


@may_keep
def add(request):
    form, act = InstrumentForm(request.POST or None), partial(add_row, Instrument, by=request.user)
    return add_page(request, form, act, title="Add an instrument", parent=_parent(), redirect_to=lambda _: _list())


@may_keep
def correct(request, name):
    instrument, on = get_instrument_or_404(name), timezone.localdate()
    repeats = repeatability_of(instrument, on)
    initial = values_of(instrument, InstrumentCorrectionForm)
    if repeats and "use_repeats" in request.GET:
        initial |= {"repeatability_db": repeats.rounded_db}
    form = InstrumentCorrectionForm(request.POST or None, initial=initial)
    act = partial(correct_instrument, instrument, by=request.user, on=on)
    lead = (
        "If you change what it is, its uncertainty or its set limit, all its readings are judged again, old ones too."
    )
    more = {"repeats": repeats, "offer_template": "inspections/bench/instruments/_repeats.html"}
    context = {"parent": _parent(), "return_url": _list(), "trail": trail_of, "lead": lead}
    return correct_page(request, instrument, form, act, **context, **more)


@may_keep
def withdraw(request, name):
    lead = "The bench no longer offers it. Its readings still count."
    return withdraw_page(
        request, get_instrument_or_404(name), withdraw_plain, parent=_parent(), lead=lead, return_url=_list()
    )


def _parent():
    return link_to("inspections:instrument-list", "Instruments")


def _list():
    return reverse("inspections:instrument-list")
