"""The instruments of the bench."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.utils import timezone
from django_tables2 import RequestConfig

from fleet.access import MAY_KEEP
from fleet.selectors.trail import trail_of
from fleet.views.permissions import may_keep

from ..forms import ReasonForm
from .forms import InstrumentCorrectForm, InstrumentForm
from .selectors import all_instruments, get_instrument_or_404
from .services import add_instrument, correct_instrument, return_instrument, withdraw_instrument
from .tables import InstrumentTable


def list_instruments(request):
    table = InstrumentTable(all_instruments(), may_keep=request.user.has_perm(MAY_KEEP))
    RequestConfig(request, paginate={"per_page": 50}).configure(table)
    return render(request, "inspections/bench/instruments/list.html", {"table": table})


@may_keep
def add(request):
    form = InstrumentForm(request.POST or None)
    if _done(form, add_instrument, by=request.user):
        messages.success(request, f"{form.cleaned_data['name']} is added.")
        return redirect("inspections:instrument-list")
    return _form_page(request, form, None)


@may_keep
def correct(request, name):
    instrument = get_instrument_or_404(name)
    form = InstrumentCorrectForm(
        request.POST or None,
        initial={
            "name": instrument.name,
            "standard_uncertainty_db": instrument.standard_uncertainty_db,
            "version": instrument.version,
        },
    )
    if _done(form, correct_instrument, instrument, by=request.user, on=timezone.localdate()):
        messages.success(request, f"{form.cleaned_data['name']} is corrected.")
        return redirect("inspections:instrument-list")
    return _form_page(request, form, instrument)


@may_keep
def withdraw(request, name):
    """Out of use with a reason, or, where it is withdrawn, back in use."""
    instrument = get_instrument_or_404(name)
    service = return_instrument if instrument.withdrawn_on else withdraw_instrument
    form = ReasonForm(request.POST or None, initial={"version": instrument.version})
    if _done(form, service, instrument, by=request.user, on=timezone.localdate()):
        messages.success(request, f"{instrument} is {'withdrawn' if instrument.withdrawn_on else 'in use again'}.")
        return redirect("inspections:instrument-list")
    context = {"instrument": instrument, "form": form}
    return render(request, "inspections/bench/instruments/withdraw.html", context, status=422 if form.is_bound else 200)


def _done(form, service, *args, **kwargs):
    """Whether the form was right and the service did what it says; else the form says what is wrong."""
    if not form.is_bound or not form.is_valid():
        return False
    values = dict(form.cleaned_data)
    if "version" in values:
        values["seen_version"] = values.pop("version")
    try:
        service(*args, **values, **kwargs)
    except ValidationError as refusal:
        form.add_error(None, refusal)
    return not form.errors


def _form_page(request, form, instrument):
    context = {"form": form, "instrument": instrument, "trail": instrument and trail_of(instrument)}
    return render(request, "inspections/bench/instruments/form.html", context, status=422 if form.is_bound else 200)
