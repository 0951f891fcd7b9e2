"""Looked at, and not to be trusted: what is said of one bench day, or taken back."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from fleet.selectors.trail import trail_of
from fleet.views.pages import form_page, submit
from fleet.views.permissions import may_bench
from fleet.views.record_pages import asked_act

from ...models.bench_days import bench_day_address
from .said_forms import LookedForm, WhyForm
from .said_services import distrust, look_at, take_back_look, trust_again
from .selectors import get_bench_day_or_404, said_of

SAID = {
    "look": "It is kept that the bench day was looked at.",
    "look again": "It counts as not looked at.",
    "distrust": "The bench day is marked: not to be trusted.",
    "trust": "The bench day counts again.",
}


@may_bench
def looked(request, day, instrument):
    said, on = _said(day, instrument), timezone.localdate()
    act = asked_act(request, "look again" if said.looked_on else "look")
    if act == "look again":
        return _act(request, said, act, WhyForm(request.POST or None), take_back_look, on)
    return _act(request, said, "look", LookedForm(request.POST or None, initial={"looked_on": on}), look_at, on)


@may_bench
def not_trusted(request, day, instrument):
    said, on = _said(day, instrument), timezone.localdate()
    act = asked_act(request, "trust" if said.not_trusted_reason else "distrust")
    service = trust_again if act == "trust" else distrust
    return _act(request, said, "trust" if act == "trust" else "distrust", WhyForm(request.POST or None), service, on)


def _said(day, instrument):
    return said_of(*get_bench_day_or_404(day, instrument))


def _act(request, said, act, form, service, on):
    address = bench_day_address(said.measured_on, said.instrument_id)
    form.look_at(said)
    service = partial(service, said, by=request.user, on=on)
    if submit(request, form, service, row=said if said.pk else None) is not None:
        messages.success(request, SAID[act])
        return redirect(address)
    context = {"said": said, "act": act, "address": address, "trail": trail_of(said) if said.pk else []}
    return form_page(request, "inspections/bench/days/said.html", form, **context)
