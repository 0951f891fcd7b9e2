"""An event that comes back: repeat it, change the rest, end it early."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone

from ..choices import UsageState
from ..figures import short_day
from ..forms.series import FollowingForm, RepeatForm, SeriesEndForm
from ..parsing.counts import counted
from ..selectors.series import events_of_series, get_series_or_404, next_of_series, trail_of_series, unfit_in_series
from ..selectors.unfit import unfit_in_words
from ..selectors.usage import get_event_or_404, mat_numbers_of, mats_planned, mats_to_choose
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
    address = submit(request, form, partial(_repeat, request, event, on=on), row=event)
    if address:
        messages.success(request, f"{event.name} is planned for each of these weeks.")
        return redirect(address)
    unfit = unfit_in_words(mats_planned([event]), event.ends_on, on=on)
    return form_page(request, "fleet/event_repeat.html", form, event=event, going=mat_numbers_of(event), unfit=unfit)


def _repeat(request, event, *, on, confirmed, **rule):
    series = repeat_event(event, by=request.user, on=on, confirmed=confirmed, **rule)
    say_unfit(request, series, on)
    return series.get_absolute_url()


def say_unfit(request, series, on):
    """Once it is stored: which of its mats should not go by its last week."""
    last, unfit = unfit_in_series(series, on)
    if unfit:
        messages.warning(
            request, f"By its last week, {short_day(last)}, these should not go: {unfit}. Each week says which."
        )


@may_keep
def event_rest(request, code):
    event, on = get_event_or_404(code), timezone.localdate()
    going = mat_numbers_of(event, UsageState.PLANNED)
    last, unfit = unfit_in_series(event.series, on) if event.series else (event.ends_on, "")
    known = {"event": event, "mats_known": list(mats_to_choose()), "going": going, "last_day": last or event.ends_on}
    form = FollowingForm(request.POST or None, **known, on=on)
    act = partial(change_following, event, by=request.user, on=on)
    rest = submit(request, form, act, row=event)
    if rest is not None:
        messages.success(request, _changed(rest))
        say_unfit(request, event.series, on)
        return redirect(event.series)
    return form_page(request, "fleet/event_rest.html", form, event=event, last=last, unfit=unfit)


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
