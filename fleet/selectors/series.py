"""Series with their events, and which of them an act on the rest concerns."""

from django.db.models import Max, Q
from django.shortcuts import get_object_or_404

from ..choices import UsageState
from ..models import EventSeries, UsageEvent
from .trail import trail_of_rows
from .unfit import unfit_in_words
from .usage import mats_planned, with_mat_counts


def get_series_or_404(pk):
    return get_object_or_404(EventSeries, pk=pk)


def events_of_series(series):
    """Its events in order of their days; adds the counts of mats."""
    return with_mat_counts(series.events.all()).order_by("starts_on", "code")


def later_weeks(event, on):
    """The events of its series from this one on that are not over and did not go, in order of their days."""
    went = UsageEvent.objects.filter(state=UsageState.WENT).values("event")
    ahead = event.series.events.filter(Q(starts_on__gt=event.starts_on) | Q(pk=event.pk), ends_on__gte=on)
    return ahead.exclude(pk__in=went).order_by("starts_on", "code")


def unfit_in_series(series, on):
    """(last day of its last week, its planned mats that should not go by then, in words); "" where all may."""
    ahead = series.events.filter(ends_on__gte=on)
    last = ahead.aggregate(last=Max("ends_on"))["last"]
    return last, unfit_in_words(mats_planned(ahead), last, on=on) if last else ""


def next_of_series(series, on):
    """The first of its events that is not over, or None."""
    return series.events.filter(ends_on__gte=on).order_by("starts_on", "code").first()


def trail_of_series(series):
    return trail_of_rows([series], name=lambda row: "Series")
