"""What became of the mats at an event: planned, went, called off. These services alone keep the days of mats."""

from collections import defaultdict
from dataclasses import asdict, dataclass

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from ..choices import UsageBasis, UsageState
from ..models import Event, Fitting, Mat, UsageEvent
from ..signals import wear_changed
from .corrections import correct_alike
from .mat_days import check_days, write_days


@dataclass(frozen=True)
class UsageValues:
    """What is told of one mat at one event. Hours and folds None: not told."""

    state: str
    counts_for: int = 1
    basis: str = UsageBasis.COUNTED
    hours_out: float | None = None
    fold_cycles: int | None = None


def log_event(event, usage, *, by, on, confirmed=""):
    """Log what became of mats at an event; `usage`: mat -> UsageValues. Returns the usage events written.

    A mat already planned for or called off from the event is changed, one that went with the same values is left.
    Raises ValidationError: went before the event is over, a mat withdrawn by then, a mat that went with other values, a
    mat planned elsewhere that day; SharedDays when a shared day wants the keeper's word.
    """
    with transaction.atomic():
        mat_ids = [mat.pk for mat in usage]
        event = lock_event(event, mat_ids)
        there = {row.mat_id: row for row in event.usage_events.select_for_update().filter(mat__in=mat_ids)}
        usage = {mat: values for mat, values in usage.items() if not _says(there.get(mat.pk), values)}
        if not usage:
            return []
        _check_may_log(event, usage, there, on)
        shared = check_days(event, {mat.pk: values.state for mat, values in usage.items()}, confirmed=confirmed)
        rows = _change_those_there(usage, there, shared, by) + _add_the_rest(event, usage, there, shared, by)
        write_days(event, rows)
        if any(row.state != UsageState.WENT for row in rows):
            set_apart(event)
        tell_wear([mat.pk for mat in usage], on)
    return rows


def log_usage_event(mat, event, *, by, on, confirmed="", **values):
    """Log one mat at one event; `values` are those of UsageValues."""
    log_event(event, {mat: UsageValues(**values)}, by=by, on=on, confirmed=confirmed)
    return event.usage_events.get(mat=mat)


def answer_event(event, state, *, by, on, confirmed=""):
    """*Went* or *called off* for all mats still planned for the event; returns how many were answered.

    Nothing is left to answer: 0, so that a second tap does no harm. Raises as `log_event` does.
    """
    if state not in (UsageState.WENT, UsageState.CALLED_OFF):
        raise ValidationError("Answer with went or called off.")
    with transaction.atomic():
        waiting = event.usage_events.filter(state=UsageState.PLANNED)
        event = lock_event(event, waiting.values("mat"))
        rows = list(waiting.select_for_update())
        check_over(event, [state], on)
        check_in_use(event, [row.mat_id for row in rows] if state == UsageState.WENT else [])
        shared = check_days(event, {row.mat_id: state for row in rows}, confirmed=confirmed)
        for shares in (True, False):
            alike = [row for row in rows if (row.mat_id in shared) == shares]
            correct_alike(alike, by=by, because="answered for the whole event", state=state, shares_a_day=shares)
        write_days(event, rows)
        if rows and state == UsageState.CALLED_OFF:
            set_apart(event)
        tell_wear([row.mat_id for row in rows], on)
    return len(rows)


def correct_usage_event(usage_event, *, by, on, because="", seen_version=None, confirmed="", **values):
    """Correct what was told of one mat at one event; the old values stay in its trail. Raises as `log_event` does."""
    with transaction.atomic():
        event = lock_event(usage_event.event, [usage_event.mat_id])
        state = values.get("state", usage_event.state)
        changed = state != usage_event.state
        if changed:
            values["shares_a_day"] = _may_become(usage_event, event, state, on, confirmed)
        usage_event.correct(by=by, because=because, seen_version=seen_version, **values)
        if changed:
            write_days(event, [usage_event])
            set_apart(event)
        tell_wear([usage_event.mat_id], on)
    return usage_event


def call_off(usage_event, *, by, on, because="", seen_version=None):
    """The mat does not go, or did not: its day is free again and nothing counts."""
    return correct_usage_event(
        usage_event, by=by, on=on, because=because, seen_version=seen_version, state=UsageState.CALLED_OFF
    )


def lock_event(event, mat_ids):
    """The event as stored, held with these mats until the transaction ends, so that their days stay as they are read.

    `mat_ids`: a list or a query. SQLite holds the whole database instead.
    """
    event = Event.objects.select_for_update().get(pk=event.pk)
    list(Mat.objects.select_for_update().filter(pk__in=mat_ids).order_by("pk").values_list("pk"))
    return event


def set_apart(event):
    """An event of a series that was changed alone: what is asked of the rest passes it by. Its trail has the change."""
    if event.series_id and not event.changed_alone:
        Event.objects.filter(pk=event.pk).update(changed_alone=True)
        event.changed_alone = True


def tell_wear(mat_ids, on):
    """Assess again every segment that was ever fitted in these mats: a moved one carries its events along."""
    segments = Fitting.objects.filter(mat__in=mat_ids).values_list("segment", flat=True).distinct()
    wear_changed.send(sender=UsageEvent, segment_ids=list(segments.order_by()), on=on)


def _may_become(usage_event, event, state, on, confirmed):
    """Refuse a state that cannot be; else whether the mat then shares a day."""
    check_over(event, [state], on)
    check_in_use(event, [usage_event.mat_id] if state != UsageState.CALLED_OFF else [])
    return bool(check_days(event, {usage_event.mat_id: state}, confirmed=confirmed))


def _says(row, values):
    return row is not None and all(getattr(row, name) == value for name, value in asdict(values).items())


def _check_may_log(event, usage, there, on):
    check_over(event, {values.state for values in usage.values()}, on)
    check_in_use(event, [mat.pk for mat, values in usage.items() if values.state != UsageState.CALLED_OFF])
    went = [mat.number for mat in usage if mat.pk in there and there[mat.pk].state == UsageState.WENT]
    if went:
        raise ValidationError(
            f"Already logged at {event} with other values: {', '.join(went)}. Correct them on the event's page."
        )


def check_over(event, states, on):
    if UsageState.WENT in states and event.ends_on > on:
        raise ValidationError(
            f"{event} ends on {event.ends_on:%Y-%m-%d}, after today, {on:%Y-%m-%d}: until then its mats are planned."
        )


def check_in_use(event, mat_ids):
    gone = Mat.objects.filter(pk__in=mat_ids, withdrawn_on__lte=event.starts_on)
    if gone:
        named = ", ".join(f"{mat} (withdrawn on {mat.withdrawn_on:%Y-%m-%d})" for mat in gone)
        raise ValidationError(f"Withdrawn before {event} starts: {named}.")


def _change_those_there(usage, there, shared, by):
    alike = defaultdict(list)
    for mat, values in usage.items():
        if mat.pk in there:
            alike[values, mat.pk in shared].append(there[mat.pk])
    for (values, shares), rows in alike.items():
        _clean(UsageEvent(**asdict(values)))
        correct_alike(rows, by=by, because="logged", shares_a_day=shares, **asdict(values))
    return [row for rows in alike.values() for row in rows]


def _add_the_rest(event, usage, there, shared, by):
    rows = [
        UsageEvent(event=event, mat=mat, shares_a_day=mat.pk in shared, recorded_by=by, **asdict(values))
        for mat, values in usage.items()
        if mat.pk not in there
    ]
    for row in rows:
        _clean(row)
    try:
        with transaction.atomic():
            return UsageEvent.objects.bulk_create(rows, batch_size=500)
    except IntegrityError as race:
        raise ValidationError("Somebody else has just logged one of these mats at this event. Look first.") from race


def _clean(row):
    """The checks of its values; that the rows it points to exist is known, and asked of no database."""
    row.clean_fields(exclude=["event", "mat", "recorded_by", "load"])
    if row.counts_for < 1:
        raise ValidationError("A usage event counts for 1 event or more.")
