"""The list of events, one event, its answer and its corrections."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST
from django_tables2 import RequestConfig

from ..access import MAY_KEEP, MAY_LOG
from ..choices import UsageBasis, UsageState
from ..forms.events import AnswerForm, EventCorrectionForm, EventFilterForm, NewEventForm, UsageCorrectionForm
from ..forms.record_forms import VersionForm, values_of
from ..forms.whereabouts import HomeForm
from ..selectors.loans import took_place, with_loans
from ..selectors.notes import notes_of
from ..selectors.unfit import unfit_first
from ..selectors.usage import (
    came_home,
    event_years,
    events_chosen,
    get_event_or_404,
    get_usage_event_or_404,
    mat_numbers_of,
    mats_of_event,
    trail_of_event,
    unanswered_events,
)
from ..selectors.whereabouts import awaited_at
from ..services.events import add_event, correct_event
from ..services.usage import answer_event, call_off, correct_usage_event
from ..tables.events import EventMatTable, EventTable
from .next_page import next_page
from .pages import form_page, list_page, say_refusal, submit
from .permissions import may_keep, may_log, require

CALLED_OFF = UsageState.CALLED_OFF.value


def event_list(request):
    on = timezone.localdate()
    form = EventFilterForm(request.GET, event_years())
    chosen = form.cleaned_data if form.is_valid() else {}
    table = EventTable(events_chosen(on, **chosen), on=on)
    unanswered = with_loans(unanswered_events(on), on)
    return list_page(request, "fleet/event_list.html", table, form=form, unanswered=unanswered)


def event_detail(request, code):
    event, on = get_event_or_404(code), timezone.localdate()
    mats = list(mats_of_event(event, on))
    plain_and_over = took_place([event], on)
    planned = [usage.mat for usage in mats if usage.state == UsageState.PLANNED]
    over = event.ends_on < on
    if planned and not over:
        mats = unfit_first(mats, event.ends_on, on=on)
    unfit = [mat for mat in planned if not over and mat.unfit]
    may_call_off = bool(planned) and request.user.has_perm(_to_call_off_one(event, on))
    may_act = may_call_off or request.user.has_perm(MAY_KEEP)
    table = EventMatTable(mats, on=on, may_act=may_act, may_call_off=may_call_off, shows_condition=planned and not over)
    RequestConfig(request, paginate=False).configure(table)
    context = {
        "event": event,
        "table": table,
        "planned": planned,
        "unfit": unfit,
        "over": over,
        "trail": trail_of_event(event),
    }
    context["notes"] = notes_of(event)
    context["begun"] = event.starts_on <= on
    context["may_come_home"] = came_home(event, mats, on)
    context["home"] = HomeForm(None, rows=awaited_at(event, on), on=on)
    context["home"].look_at(event)
    context["home_on"] = min(event.ends_on, on)
    context["usual"] = bool(mats) and all(usage.basis == UsageBasis.USUAL for usage in mats)
    context["may_log_it"] = not context["usual"] and request.user.has_perm(MAY_LOG if plain_and_over else MAY_KEEP)
    return render(request, "fleet/event_detail.html", context)


@may_log
def event_answer(request, code):
    """*Went* is one tap for the whole event; *called off*, for everybody, is asked on this page first.

    Asks back where a mat was elsewhere that day.
    """
    event, on = get_event_or_404(code), timezone.localdate()
    calls_off = CALLED_OFF in (request.POST.get("state"), request.GET.get("state"))
    if calls_off or with_loans([event], on)[0].loan:
        require(request.user, MAY_KEEP)
    form = AnswerForm(request.POST if request.method == "POST" else None)
    act = partial(answer_event, event, by=request.user, on=on)
    answered = submit(request, form, act, row=event)
    if answered is not None:
        messages.success(request, _answered(event, answered, form.cleaned_data["state"]))
        return redirect(next_page(request, event))
    template = "fleet/event_call_off.html" if calls_off else "fleet/event_answer.html"
    context = {"event": event, "on": on, "next": next_page(request, event)}
    return form_page(request, template, form, **context, **_mats_by_state(event))


def _mats_by_state(event):
    return {"planned": mat_numbers_of(event, UsageState.PLANNED), "went": mat_numbers_of(event, UsageState.WENT)}


def _answered(event, answered, state):
    if not answered:
        return confirmed_already(event)
    return f"{event.name}: {answered} mat{'s' if answered > 1 else ''} {state}."


def confirmed_already(event):
    went, called_off = (len(mat_numbers_of(event, state)) for state in (UsageState.WENT, UsageState.CALLED_OFF))
    return f"{event.name} was confirmed already. Went: {went}. Called off: {called_off}."


@may_keep
def event_add(request):
    form = NewEventForm(request.POST or None, initial={"starts_on": timezone.localdate()})
    address = submit(request, form, partial(_add, by=request.user))
    return redirect(address) if address else form_page(request, "fleet/event_add.html", form)


def _add(*, confirmed, **values):
    return add_event(confirmed=confirmed, **values).get_absolute_url()


@may_keep
def event_correct(request, code):
    event, on = get_event_or_404(code), timezone.localdate()
    form = EventCorrectionForm(request.POST or None, initial=values_of(event, EventCorrectionForm))
    act = partial(correct_event, event, by=request.user, on=on)
    if submit(request, form, act, row=event) is not None:
        messages.success(request, f"{event} is corrected.")
        return redirect(event)
    return form_page(request, "fleet/event_correct.html", form, event=event)


@may_keep
def usage_correct(request, code, number):
    usage_event, on = get_usage_event_or_404(code, number), timezone.localdate()
    form = UsageCorrectionForm(request.POST or None, initial=values_of(usage_event, UsageCorrectionForm))
    act = partial(correct_usage_event, usage_event, by=request.user, on=on)
    if submit(request, form, act, row=usage_event) is not None:
        messages.success(request, f"{usage_event.mat.at_start} at {usage_event.event.name} is corrected.")
        return redirect(usage_event.event)
    return form_page(request, "fleet/usage_correct.html", form, usage=usage_event)


@may_log
@require_POST
def usage_call_off(request, code, number):
    usage_event, form, on = get_usage_event_or_404(code, number), VersionForm(request.POST), timezone.localdate()
    require(request.user, _to_call_off_one(usage_event.event, on))
    act = partial(call_off, usage_event, by=request.user, on=on)
    # sent again because its answer was lost, it has been done
    if usage_event.state == CALLED_OFF or submit(request, form, act, row=usage_event) is not None:
        messages.success(request, f"{usage_event.mat.at_start} is called off.")
    else:
        say_refusal(request, form)
    return redirect(usage_event.event)


def _to_call_off_one(event, on):
    """The permission to call one mat off: it stayed at home, or, before the event begins, the plan changes."""
    return MAY_LOG if event.starts_on <= on else MAY_KEEP
