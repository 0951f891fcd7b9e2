"""The list of events, one event, its answer and its corrections."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST
from django_tables2 import RequestConfig

from ..choices import UsageState
from ..forms.events import EventCorrectionForm, EventFilterForm, NewEventForm, UsageCorrectionForm
from ..selectors.loans import with_loans
from ..selectors.usage import (
    event_years,
    events_chosen,
    get_event_or_404,
    get_usage_event_or_404,
    mats_of_event,
    trail_of_event,
    unanswered_events,
)
from ..services.events import add_event, correct_event
from ..services.mat_days import SharedDays
from ..services.submissions import act_once
from ..services.usage import answer_event, call_off, correct_usage_event
from ..tables.events import EventMatTable, EventTable
from .next_page import next_page
from .permissions import may_log


def event_list(request):
    on = timezone.localdate()
    form = EventFilterForm(request.GET, event_years())
    chosen = form.cleaned_data if form.is_valid() else {}
    table = EventTable(events_chosen(on, **chosen), on=on)
    RequestConfig(request, paginate={"per_page": 50}).configure(table)
    unanswered = with_loans(unanswered_events(on))
    return render(request, "fleet/event_list.html", {"form": form, "table": table, "unanswered": unanswered})


def event_detail(request, code):
    return _show_event(request, get_event_or_404(code))


def _show_event(request, event):
    on = timezone.localdate()
    mats = mats_of_event(event)
    with_loans([event])
    table = EventMatTable(mats, on=on, may_log=request.user.has_perm("fleet.log_work"))
    RequestConfig(request, paginate=False).configure(table)
    planned = [usage.mat for usage in mats if usage.state == UsageState.PLANNED]
    over = event.ends_on < on
    context = {"event": event, "table": table, "planned": planned, "over": over, "trail": trail_of_event(event)}
    context["begun"] = event.starts_on <= on
    return render(request, "fleet/event_detail.html", context)


@may_log
def event_answer(request, code):
    """One tap for the whole event; asks back where a mat was elsewhere that day."""
    event, on = get_event_or_404(code), timezone.localdate()
    if request.method != "POST":
        return render(request, "fleet/event_answer.html", {"event": event, "next": next_page(request, event)})
    state = request.POST.get("state", "")
    try:
        answered = answer_event(event, state, by=request.user, on=on, **_confirmed(request))
    except ValidationError as refused:
        context = {"event": event, "refused": refused, "state": state, "next": next_page(request, event)}
        return render(request, "fleet/event_answer.html", context | _shared(refused), status=422)
    messages.success(request, _answered(event, state, answered))
    return redirect(next_page(request, event))


def _answered(event, state, answered):
    if not answered:
        return f"{event.name} was already answered."
    return f"{event.name}: {answered} mat{'s' if answered > 1 else ''} {state}."


def _confirmed(request):
    return {"confirmed": request.POST.get("confirmed", "")}


def _corrected(request, form):
    values = dict(form.cleaned_data)
    return {"seen_version": values.pop("version"), **values, **_confirmed(request)}


def _shared(refused):
    """What the page shows of days that want the keeper's word."""
    return {"shared": refused} if isinstance(refused, SharedDays) else {}


@may_log
def event_add(request):
    form = NewEventForm(request.POST or None, initial={"starts_on": timezone.localdate()})
    if form.is_valid():
        values = dict(form.cleaned_data)
        token = values.pop("token")
        try:
            address = act_once(
                token, by=request.user, act=lambda: add_event(by=request.user, **values).get_absolute_url()
            )
            return redirect(address)
        except ValidationError as refused:
            form.add_error(None, refused)
    return _answer_form(request, "fleet/event_add.html", {"form": form})


@may_log
def event_correct(request, code):
    event, on = get_event_or_404(code), timezone.localdate()
    form = EventCorrectionForm.of(event, request.POST or None)
    shared = {}
    if form.is_valid():
        try:
            event = correct_event(event, by=request.user, on=on, **_corrected(request, form))
            messages.success(request, f"{event} is corrected.")
            return redirect(event)
        except ValidationError as refused:
            form.add_error(None, refused)
            shared = _shared(refused)
    return _answer_form(request, "fleet/event_correct.html", {"form": form, "event": get_event_or_404(code)} | shared)


@may_log
def usage_correct(request, code, number):
    usage_event, on = get_usage_event_or_404(code, number), timezone.localdate()
    form = UsageCorrectionForm.of(usage_event, request.POST or None)
    shared = {}
    if form.is_valid():
        try:
            correct_usage_event(usage_event, by=request.user, on=on, **_corrected(request, form))
            messages.success(request, f"{usage_event.mat} at {usage_event.event.name} is corrected.")
            return redirect(usage_event.event)
        except ValidationError as refused:
            form.add_error(None, refused)
            shared = _shared(refused)
    context = {"form": form, "usage": get_usage_event_or_404(code, number)} | shared
    return _answer_form(request, "fleet/usage_correct.html", context)


@may_log
@require_POST
def usage_call_off(request, code, number):
    usage_event = get_usage_event_or_404(code, number)
    try:
        call_off(usage_event, by=request.user, on=timezone.localdate())
        messages.success(request, f"{usage_event.mat} is called off.")
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    return redirect(reverse("fleet:event-detail", args=[code]))


def _answer_form(request, template, context):
    return render(request, template, context, status=422 if context["form"].is_bound else 200)
