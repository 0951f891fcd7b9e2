"""An event that comes back: repeat it, change the rest, end it early."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.utils import timezone

from ..choices import UsageState
from ..forms.series import RepeatForm, RestForm, SeriesEndForm
from ..selectors.series import events_of_series, get_series_or_404, next_of_series, trail_of_series
from ..selectors.usage import get_event_or_404, mat_numbers_of, mats_to_choose
from ..services.series import end_series, repeat_event
from ..services.series_days import TakenDays
from ..services.series_rest import change_rest
from ..services.submissions import act_once
from ..tables.events import EventTable
from .permissions import may_log


def series_detail(request, pk):
    series, on = get_series_or_404(pk), timezone.localdate()
    context = {
        "series": series,
        "table": EventTable(events_of_series(series), on=on, orderable=False),
        "next_event": next_of_series(series, on),
        "trail": trail_of_series(series),
    }
    return render(request, "fleet/series_detail.html", context)


@may_log
def event_repeat(request, code):
    event, on = get_event_or_404(code), timezone.localdate()
    form = RepeatForm(request.POST or None)
    context = {"form": form, "event": event, "going": mat_numbers_of(event)}
    if form.is_valid():
        rule = dict(form.cleaned_data)
        token = rule.pop("token")
        rule |= {"by": request.user, "on": on, "left_out": request.POST.get("left_out", "")}
        try:
            address = act_once(token, by=request.user, act=lambda: repeat_event(event, **rule).get_absolute_url())
            messages.success(request, f"{event.name} is planned for each of these weeks.")
            return redirect(address)
        except ValidationError as refused:
            form.add_error(None, refused)
            context |= taken(refused)
    return _answer_form(request, "fleet/event_repeat.html", context)


@may_log
def event_rest(request, code):
    event, on = get_event_or_404(code), timezone.localdate()
    going = mat_numbers_of(event, UsageState.PLANNED)
    form = RestForm(request.POST or None, event=event, mats_known=list(mats_to_choose()), going=going)
    context = {"form": form, "event": event}
    if form.is_valid():
        told = {"because": form.cleaned_data["because"], "seen_version": form.cleaned_data["version"]}
        left_out = request.POST.get("left_out", "")
        try:
            rest = change_rest(event, form.week, by=request.user, on=on, left_out=left_out, **told)
            messages.success(request, _changed(rest))
            return redirect(event.series)
        except ValidationError as refused:
            form.add_error(None, refused)
            context |= taken(refused)
    return _answer_form(request, "fleet/event_rest.html", context)


@may_log
def series_end(request, pk):
    series, on = get_series_or_404(pk), timezone.localdate()
    form = SeriesEndForm(request.POST or None, initial={"last_day": on, "version": series.version})
    if form.is_valid():
        told = dict(form.cleaned_data)
        told["seen_version"] = told.pop("version")
        try:
            ended = end_series(series, by=request.user, on=on, **told)
            messages.success(request, f"{series} ends: {ended} event{'' if ended == 1 else 's'} called off.")
            return redirect(series)
        except ValidationError as refused:
            form.add_error(None, refused)
    return _answer_form(request, "fleet/series_end.html", {"form": form, "series": get_series_or_404(pk)})


def taken(refused):
    """What the page shows of weeks that are taken, so that they can be left out."""
    return {"taken": refused} if isinstance(refused, TakenDays) else {}


def _changed(rest):
    sentence = f"{len(rest.changed)} event{'' if len(rest.changed) == 1 else 's'} changed."
    if rest.left:
        sentence += f" Left as they were: {', '.join(event.code for event in rest.left)}."
    return sentence


def _answer_form(request, template, context):
    return render(request, template, context, status=422 if context["form"].is_bound else 200)
