"""An event that comes back: repeat it, change the rest, end it early."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone

from ..choices import UsageState
from ..forms.series import FollowingForm, RepeatForm, SeriesEndForm
from ..parsing.counts import counted
from ..selectors.series import events_of_series, get_series_or_404, next_of_series, trail_of_series
from ..selectors.usage import get_event_or_404, mat_numbers_of, mats_to_choose
from ..services.series import end_series, repeat_event
from ..services.series_following import change_following
from ..tables.events import EventTable
from .pages import form_page, submit
from .permissions import may_keep


def series_detail(request, pk):
    series, on = get_series_or_404(pk), timezone.localdate()
    context = {
        "series": series,
        "table": EventTable(events_of_series(series), on=on, orderable=False),
        "next_event": next_of_series(series, on),
        "trail": trail_of_series(series),
    }
    return render(request, "fleet/series_detail.html", context)


@may_keep
def event_repeat(request, code):
    event, on = get_event_or_404(code), timezone.localdate()
    form = RepeatForm(request.POST or None)
    address = submit(request, form, partial(_repeat, event, by=request.user, on=on), row=event)
    if address:
        messages.success(request, f"{event.name} is planned for each of these weeks.")
        return redirect(address)
    return form_page(request, "fleet/event_repeat.html", form, event=event, going=mat_numbers_of(event))


def _repeat(event, *, confirmed, **rule):
    return repeat_event(event, confirmed=confirmed, **rule).get_absolute_url()


@may_keep
def event_rest(request, code):
    event, on = get_event_or_404(code), timezone.localdate()
    going = mat_numbers_of(event, UsageState.PLANNED)
    form = FollowingForm(request.POST or None, event=event, mats_known=list(mats_to_choose()), going=going)
    act = partial(change_following, event, by=request.user, on=on)
    rest = submit(request, form, act, row=event)
    if rest is not None:
        messages.success(request, _changed(rest))
        return redirect(event.series)
    return form_page(request, "fleet/event_rest.html", form, event=event)


@may_keep
def series_end(request, pk):
    series, on = get_series_or_404(pk), timezone.localdate()
    form = SeriesEndForm(request.POST or None, initial={"last_day": on})
    ended = submit(request, form, partial(end_series, series, by=request.user, on=on), row=series)
    if ended is not None:
        messages.success(request, f"{series} ends: {counted(ended, 'event')} called off.")
        return redirect(series)
    return form_page(request, "fleet/series_end.html", form, series=series)


def _changed(rest):
    sentence = f"{counted(len(rest.changed), 'event')} changed."
    if rest.skipped:
        sentence += f" Left as they were: {', '.join(event.code for event in rest.skipped)}."
    return sentence
