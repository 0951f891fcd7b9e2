"""Log an event: one form; every button but the last gives it back with more filled in."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from ..access import MAY_KEEP
from ..choices import UsageState
from ..forms.event_facts import event_facts
from ..forms.event_log import LOG, NEW, EventLogForm
from ..selectors.loans import took_place
from ..selectors.seen import versions_of
from ..selectors.series import events_of_series
from ..selectors.usage import (
    events_around,
    get_event_or_404,
    last_time,
    mat_numbers_of,
    mats_taken_along,
    mats_to_choose,
)
from ..services.events import add_event
from ..services.locks import hold_pool
from ..services.series import repeat_event
from ..services.usage import log_event
from .pages import form_page, submit
from .permissions import may_log, require
from .series import say_unfit


@may_log
def event_log(request):
    on = timezone.localdate()
    form = _form(request, on)
    address = submit(request, form, partial(_store, request, form, on))
    if address:
        messages.success(request, form.in_words or "It was stored before. Nothing is stored twice.")
        return redirect(address)
    template = "fleet/_log_mats.html" if request.htmx else "fleet/event_log.html"
    return form_page(request, template, form, **_mats(form))


def _form(request, on):
    """Who does not plan is offered what took place; what is sent all the same is refused as a whole."""
    plans = request.user.has_perm(MAY_KEEP)
    code = request.POST.get("event") or request.GET.get("event", "")
    event = get_event_or_404(code) if code and request.method == "GET" else None
    sent = request.POST if request.method == "POST" else None
    events = events_around(on, code, ahead=plans)
    events = events if plans else took_place(events, on)
    form = EventLogForm(sent, on=on, events=events, mats=mats_to_choose(), event=event, plans=plans)
    if form.unusual or form.repeats or _is_left_out(code, form, on):
        require(request.user, MAY_KEEP)
    return form


def _is_left_out(code, form, on):
    """An event that is there and not offered."""
    return code not in ("", NEW, *form.events) and code in [event.code for event in events_around(on, code)]


def _store(request, form, on, confirmed, **_):
    """Runs in the one transaction of `submit`: an event whose mats are refused is not added either.

    Who repeats an event, or changes others for it, has the pool to himself from the beginning (see `services.locks`).
    """
    if form.rule or confirmed:
        hold_pool()
    event = form.event or add_event(by=request.user, confirmed=confirmed, **form.event_values)
    log_event(event, form.usage(event.ends_on), by=request.user, on=on, seen=form.seen, confirmed=confirmed)
    series = form.rule and repeat_event(event, by=request.user, on=on, confirmed=confirmed, **form.rule)
    if series:
        say_unfit(request, series, on)
    stored = mat_numbers_of(event, *UsageState)
    form.say_stored(event.ends_on, stored, events_of_series(series).count() if series else 0)
    return event.get_absolute_url()


def _mats(form):
    """The mats that are offered, and the earlier event they come from."""
    went = mat_numbers_of(form.event, UsageState.WENT) if form.event else []
    planned = mat_numbers_of(form.event, UsageState.PLANNED) if form.event else []
    name, place = (form.event.name, form.event.place) if form.event else (form["name"].value(), form["place"].value())
    earlier = last_time(form.day, name=name or "", place=place or "")
    same = [number for number in mats_taken_along(earlier) if number not in went] if earlier else []
    if form.act == "same":
        form.offer(same)
    elif form.act == "choose" or not form.listed.mats:
        form.offer(planned)
    if form.event and not (form.act == LOG and form.seen):
        form.seen = versions_of(form.event)
    facts = event_facts(form, planned=planned, same=same)
    return {"went": went, "planned": planned, "earlier": earlier if same else None, "facts": facts}
