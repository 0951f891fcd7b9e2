"""Log an event: one form; every button but the last gives it back with more filled in."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.utils import timezone

from ..choices import UsageState
from ..forms.event_log import EventLogForm
from ..selectors.usage import events_around, get_event_or_404, last_time, mat_numbers_of, mats_to_choose
from ..services.events import add_event
from ..services.mat_days import SharedDays
from ..services.series import repeat_event
from ..services.submissions import act_once
from ..services.usage import log_event
from .permissions import may_log
from .series import taken


@may_log
def event_log(request):
    on = timezone.localdate()
    form = _form(request, on)
    context = {"form": form}
    if form.is_valid():
        try:
            address = act_once(form.cleaned_data["token"], by=request.user, act=lambda: _store(form, request, on))
            messages.success(request, f"Logged: {len(form.listed.mats)} mat{'s' if len(form.listed.mats) > 1 else ''}.")
            return redirect(address)
        except ValidationError as refused:
            form.add_error(None, refused)
            context["shared"] = refused if isinstance(refused, SharedDays) else None
            context |= taken(refused)
    context |= _mats(form)
    template = "fleet/_log_mats.html" if request.htmx else "fleet/event_log.html"
    return render(request, template, context, status=422 if form.is_bound else 200)


def _form(request, on):
    code = request.POST.get("event") or request.GET.get("event", "")
    event = get_event_or_404(code) if code and request.method == "GET" else None
    sent = request.POST if request.method == "POST" else None
    return EventLogForm(sent, on=on, events=events_around(on, code), mats=mats_to_choose(), event=event)


def _store(form, request, on):
    """Runs in the one transaction of `act_once`: an event whose mats are refused is not added either."""
    event = form.event or add_event(by=request.user, **form.event_values)
    confirmed = request.POST.get("confirmed", "")
    log_event(event, form.usage(event.ends_on), by=request.user, on=on, confirmed=confirmed)
    if form.rule:
        repeat_event(event, by=request.user, on=on, left_out=request.POST.get("left_out", ""), **form.rule)
    return event.get_absolute_url()


def _mats(form):
    """The mats that are offered, and the earlier event they come from."""
    went = mat_numbers_of(form.event, UsageState.WENT) if form.event else []
    planned = mat_numbers_of(form.event, UsageState.PLANNED) if form.event else []
    name, place = (form.event.name, form.event.place) if form.event else (form["name"].value(), form["place"].value())
    earlier = last_time(form.day, name=name or "", place=place or "")
    if form.act == "same" and earlier:
        form.offer([number for number in mat_numbers_of(earlier) if number not in went])
    elif form.act == "choose" or not form.listed.mats:
        form.offer(planned)
    return {"went": went, "planned": planned, "earlier": earlier}
