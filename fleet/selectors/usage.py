"""Events with what became of their mats, and which of them wait for an answer."""

from datetime import timedelta
from itertools import count

from django.db.models import Case, Count, F, Max, Min, Prefetch, Q, When, prefetch_related_objects
from django.shortcuts import get_object_or_404

from ..choices import UsageBasis, UsageState
from ..models import Event, EventSeries, Fault, Mat, UsageEvent
from ..models.fields import code_key
from ..parsing.whole_numbers import read_whole
from ..validators import NAME_LENGTH
from .notes import trail_of_notes
from .trail import newest_first, trail_of_rows

# as long as mats of an event are looked at once they are home
RECENTLY = timedelta(days=30)
AROUND = timedelta(days=14)
MOST_TO_CHOOSE = 12
WAITS, USUAL, GAVE_WAY = "to be confirmed", "usual use", "usual use, does not count"


def get_event_or_404(code):
    return get_object_or_404(Event, code=code)


def get_usage_event_or_404(code, number):
    return get_object_or_404(UsageEvent.objects.select_related("event", "mat"), event__code=code, mat__number=number)


def _mats(*states):
    return Count("usage_events", filter=Q(usage_events__state__in=states))


def with_mat_counts(events):
    """Adds `mats_planned`, `mats_went` and `mats_called_off`, and of those that went `mats_usual`: by usual use."""
    return events.annotate(
        mats_planned=_mats(UsageState.PLANNED),
        mats_went=_mats(UsageState.WENT),
        mats_called_off=_mats(UsageState.CALLED_OFF),
        mats_usual=Count(
            "usage_events",
            filter=Q(usage_events__basis=UsageBasis.USUAL) & ~Q(usage_events__state=UsageState.CALLED_OFF),
        ),
    )


def event_state(event, on):
    """The state of a whole event, from its counts of mats, in words."""
    if event.mats_planned:
        return WAITS if event.ends_on < on else UsageState.PLANNED.value
    if event.mats_went:
        return USUAL if event.mats_usual == event.mats_went else UsageState.WENT.value
    return UsageState.CALLED_OFF.value if event.mats_called_off else "no mats yet"


def usage_state(usage_event, on):
    """The state of one mat at its event, in words; of usual use whether it counts, where rows are `with_gives_way`."""
    if usage_event.basis == UsageBasis.USUAL and usage_event.state == UsageState.WENT:
        return GAVE_WAY if usage_event.gives_way else USUAL
    waits = usage_event.state == UsageState.PLANNED and usage_event.event.ends_on < on
    return WAITS if waits else usage_event.state


def unanswered_events(on):
    """Events that are over by that day and have mats still planned, longest ago first; adds `mats_planned`.

    Until somebody answers, their mats count as went.
    """
    over = Event.objects.filter(ends_on__lt=on, usage_events__state=UsageState.PLANNED)
    return over.annotate(mats_planned=Count("usage_events")).order_by("ends_on", "code")


def count_unanswered(on):
    """How many these are."""
    return UsageEvent.objects.not_confirmed(on).values("event").distinct().count()


def next_event_of(mat, on):
    """The event for which the mat is planned next, or None."""
    planned = UsageEvent.objects.still_planned(on).filter(mat=mat).select_related("event")
    usage_event = planned.order_by("event__starts_on", "event__code").first()
    return usage_event and usage_event.event


def next_events_of(mat_ids, on):
    """{mat id: the event for which it is planned next}, in one query; mats without one are left out."""
    planned = UsageEvent.objects.still_planned(on).filter(mat__in=mat_ids).select_related("event")
    # the soonest is written last
    latest_first = planned.order_by("-event__starts_on", "-event__code")
    return {usage_event.mat_id: usage_event.event for usage_event in latest_first}


def events_upcoming_first(on, events=None):
    """Events not over, soonest first, then the past ones, newest first; adds the counts of mats."""
    events = Event.objects.all() if events is None else events
    ahead_on = Case(When(ends_on__gte=on, then=F("starts_on")))
    return with_mat_counts(events).order_by(ahead_on.asc(nulls_last=True), "-starts_on", "code")


def event_years():
    """Years in which events start, newest first; every year between the first and the last."""
    ends = Event.objects.aggregate(first=Min("starts_on"), last=Max("starts_on"))
    if ends["first"] is None:
        return []
    return list(range(ends["last"].year, ends["first"].year - 1, -1))


def mats_of_event(event, on):
    """Usage events of an event with their mats, by mat number; with `gives_way`."""
    usage_events = event.usage_events.with_gives_way(on).select_related("mat__design", "mat__depot", "event")
    return usage_events.order_by("mat__number")


def came_home(event, usage_events, on):
    """Mats of an event that somebody may find damaged or wet: it has begun, and is not long over.

    With `open_faults`, of which some may have been reported already.
    """
    if not event.starts_on <= on <= event.ends_on + RECENTLY:
        return []
    went = [row for row in usage_events if row.state != UsageState.CALLED_OFF and row.basis != UsageBasis.USUAL]
    mats = [row.mat for row in went]
    prefetch_related_objects(mats, Prefetch("faults", Fault.objects.open_on(on), to_attr="open_faults"))
    return mats


def mats_to_choose():
    """Mats with their depots, by depot and number; withdrawn ones too, since a list may name them."""
    return Mat.objects.select_related("depot").order_by(F("depot__name").asc(nulls_last=True), "number")


def mats_planned(events):
    """The mats that are planned for any of these events, by number."""
    planned = UsageEvent.objects.filter(event__in=events, state=UsageState.PLANNED)
    return list(Mat.objects.filter(pk__in=planned.values("mat")).order_by("number"))


def next_free_code(year):
    """E-2026-41 after E-2026-40: one more than the highest number of that year."""
    return _code(year, _highest_number(year) + 1)


def free_codes(days):
    """A free code for an event on each of these days, in turn."""
    numbers = {year: count(_highest_number(year) + 1) for year in {day.year for day in days}}
    return [_code(day.year, next(numbers[day.year])) for day in days]


def next_free_series_code(year):
    """S-2026-04: one more than the highest number of that year of any series that is or was."""
    start = f"S-{year}-"
    gone = EventSeries.history.filter(code__startswith=start, history_type="-").values_list("code", flat=True)
    numbers = filter(None, (read_whole(code[len(start) :]) for code in gone))
    return f"{start}{max(EventSeries.objects.highest_running(start), *numbers, 0) + 1:02d}"


def _code(year, number):
    return f"E-{year}-{number:02d}"


def _highest_number(year):
    """Of events that are or were: what a phone kept for a deleted one must not come to another of its code."""
    start = f"E-{year}-"
    there = Event.objects.filter(code_key__startswith=code_key(start)).values_list("code_key", flat=True)
    gone = Event.history.filter(code__startswith=start, history_type="-").values_list("code", flat=True)
    return max(filter(None, (read_whole(code[len(start) :]) for code in [*there, *gone])), default=0)


def events_chosen(on, *, year=None, state="", find=""):
    """Events of a year, a state (planned, went, called off, waits) and a text in code, name or place."""
    events = Event.objects.all()
    if year:
        events = events.filter(starts_on__year=year)
    if find:
        events = events.filter(pk__in=Event.objects.find(find).values("pk")) | events.filter(place__icontains=find)
    if state:
        events = events.filter(pk__in=_usage_in_state(state, on).values("event"))
    return events_upcoming_first(on, events)


def _usage_in_state(state, on):
    if state == "waits":
        return UsageEvent.objects.not_confirmed(on)
    if state == UsageState.PLANNED:
        return UsageEvent.objects.still_planned(on)
    return UsageEvent.objects.filter(state=state)


def trail_of_event(event):
    """Corrections of the event, of what is known of its mats and of its notes, newest first."""
    of_event = trail_of_rows([event], name=lambda row: "Event")
    of_mats = trail_of_rows(event.usage_events.select_related("mat"), name=lambda row: row.mat.at_start)
    return newest_first(of_event, of_mats, trail_of_notes(event))


def events_around(on, also="", *, ahead=True):
    """Events to log: of the last and next days and those waiting for an answer, nearest first, and the one named.

    `ahead`: also those that are not over on that day.
    """
    near = Q(ends_on__gte=on - AROUND, starts_on__lte=on + AROUND)
    waiting = Q(pk__in=UsageEvent.objects.not_confirmed(on).values("event"))
    held = Q(pk__in=Event.objects.that_people_held().filter(near | waiting)) | Q(code=also)
    events = with_mat_counts(Event.objects.filter(held if ahead else held & Q(ends_on__lte=on)))
    nearest = sorted(events, key=lambda event: (event.code != also, _days_away(event, on), event.code))
    return nearest[:MOST_TO_CHOOSE]


def _days_away(event, on):
    return max((event.starts_on - on).days, (on - event.ends_on).days, 0)


def last_time(before, *, name="", place=""):
    """The newest event that began before that day and had mats: of the same name or place if there is one, else any.

    Usual use is no mat that somebody took anywhere.
    """
    had_mats = UsageEvent.objects.taken_along().values("event")
    earlier = (
        Event.objects.that_people_held().filter(starts_on__lt=before, pk__in=had_mats).order_by("-starts_on", "code")
    )
    same = Q(name__iexact=name) if 0 < len(name) <= NAME_LENGTH else Q(pk=None)
    same |= Q(place__iexact=place) if 0 < len(place) <= NAME_LENGTH else Q(pk=None)
    return earlier.filter(same).first() or earlier.first()


def mat_numbers_of(event, *states):
    """Numbers of the mats in these states at the event; no states: planned and went."""
    usage = event.usage_events.filter(state__in=states or (UsageState.PLANNED, UsageState.WENT))
    return _numbers(usage)


def mats_taken_along(event):
    """Numbers of the mats that people took to the event or plan to; never those of usual use."""
    return _numbers(event.usage_events.taken_along())


def _numbers(usage):
    return list(usage.order_by("mat__number").values_list("mat__number", flat=True))
