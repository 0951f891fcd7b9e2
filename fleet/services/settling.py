"""The only way in which mats at events are written: checked, stored, their days rewritten, wear assessed again."""

from collections import defaultdict
from dataclasses import asdict, dataclass

from django.core.exceptions import ValidationError
from django.db.models import Q

from ..choices import UsageBasis, UsageState
from ..figures import short_day
from ..models import Event, Fitting, Mat, UsageEvent
from ..selectors.seen import mark_of
from ..signals import wear_changed
from .corrections import correct_alike
from .locks import DELETED, hold_all
from .mat_days import check_days, takes_days, write_days
from .races import race_refused

# states by which an event of a series differs from the others; that a mat went was the plan
OTHER_THAN_PLANNED = frozenset({UsageState.PLANNED, UsageState.CALLED_OFF})
CALLED_OFF = {"state": UsageState.CALLED_OFF, "shares_a_day": False, "home_on": None}


@dataclass(frozen=True)
class UsageValues:
    """What is known of one mat at one event. Hours and folds None: not known."""

    state: str
    counts_for: int = 1
    basis: str = UsageBasis.COUNTED
    hours_out: float | None = None
    fold_cycles: int | None = None

    @classmethod
    def of(cls, usage_event, **changes):
        """The values of a stored usage event, with these changes."""
        return cls(**{name: getattr(usage_event, name) for name in cls.__dataclass_fields__} | changes)


def lock_event(event, mats=()):
    """The event as stored, held with its mats and these until the transaction ends: their days stay as read."""
    stored = hold_all(Event.objects.filter(pk=event.pk))
    if not stored:
        raise ValidationError(DELETED)
    (event,) = stored
    more = {mat.pk for mat in mats}
    held = hold_all(Mat.objects.filter(Q(pk__in=more) | Q(pk__in=event.usage_events.values("mat"))))
    if more - {mat.pk for mat in held}:
        raise ValidationError(DELETED)
    return event


def check_seen(event, rows, seen):
    """Refuse what was sent from a page that showed the event or its mats otherwise; `rows`: those it is about now.

    `seen`: the `mark_of` that the page showed; None: nobody looked.
    """
    if seen not in (None, mark_of(event, rows)):
        raise changed_meanwhile(event, rows)


def changed_meanwhile(event, rows):
    """The refusal that says what there is now of the event and of these usage events."""
    mats = ", ".join(sorted(f"{row.mat} {in_words(row)}" for row in rows)) or "no mats"
    days = " to ".join(dict.fromkeys((short_day(event.starts_on), short_day(event.ends_on))))
    return ValidationError(
        f"Somebody else changed this meanwhile. Now it is {event} on {days}: {mats}. Look at it again before you save.",
        code="stale",
    )


def in_words(values):
    """What is known of one mat at an event, UsageValues or a stored row, as a refusal names it."""
    hours = [] if values.hours_out is None else [f"{values.hours_out:g} h out"]
    folds = [] if values.fold_cycles is None else [f"fold cycles {values.fold_cycles}"]
    known = ", ".join([*hours, *folds])
    return f"{values.state} ({known})" if known else values.state


def settle(event, usage, *, by, on, reason, confirmed="", detached_by=OTHER_THAN_PLANNED, may_leave_out=False):
    """Make the usage of an event what is given; `usage`: usage event, or mat that has none -> UsageValues.

    Returns the usage events. Call inside a transaction, with the event from `lock_event` and usage events read after
    it. An event of a series is detached where a mat comes to a state in `detached_by`. Raises ValidationError: went
    before the event is over, a mat withdrawn by then, a mat planned elsewhere that day, usual use that is planned or
    the mat's second of that month; DoubleBooked when a shared day wants the keeper's word. `may_leave_out`: where mats
    are planned twice on a day the keeper may leave them out, or call them off at the other events (PlannedTwice); the
    caller then has the pool to himself when it is `confirmed`.
    """
    given = [(_row_of(event, target, by), values) for target, values in usage.items()]
    states = {row.mat_id: values.state for row, values in given}
    check_over(event, states.values(), on)
    check_in_use(event, [mat_id for mat_id, state in states.items() if state != UsageState.CALLED_OFF])
    _check_usual_use(event, given)
    taken = {row.mat_id: values.state for row, values in given if takes_days(values)}
    days = check_days(event, taken, confirmed=confirmed, may_leave_out=may_leave_out)
    given = [(row, values) for row, values in given if row.mat_id not in days.left_out]
    _clean_all(given)
    _give_way(days.give_way, event, by, on)
    changes = [(row, _stored(row, values, row.mat_id in days.shared)) for row, values in given]
    rows = store_usage(changes, by=by, on=on, reason=reason)
    if detached_by.intersection(values.state for _, values in given):
        detach(event)
    return rows


def _stored(row, values, shares_a_day):
    """What stayed at home came home on no day."""
    home_on = None if values.state == UsageState.CALLED_OFF else row.home_on
    return asdict(values) | {"shares_a_day": shares_a_day, "home_on": home_on}


def _give_way(pairs, event, by, on):
    """Call off what is planned for these (mat id, event id), so that the mats can go to the event."""
    if not pairs:
        return
    mat_ids, event_ids = zip(*pairs, strict=True)
    rows = UsageEvent.objects.filter(mat__in=mat_ids, event__in=event_ids, state=UsageState.PLANNED)
    rows = [row for row in rows.select_related("event") if (row.mat_id, row.event_id) in pairs]
    store_usage([(row, CALLED_OFF) for row in rows], by=by, on=on, reason=f"goes to {event} instead")
    Event.objects.filter(pk__in=event_ids, series__isnull=False).update(changed_alone=True)


def _row_of(event, target, by):
    row = UsageEvent(mat=target, recorded_by=by) if isinstance(target, Mat) else target
    row.event = event
    return row


def store_usage(changes, *, by, on, reason):
    """Write usage events that were checked, of one event or of many; `changes`: (usage event, {field: value}).

    Returns the usage events. Those not stored yet are added, those that differ corrected; the days of all are written
    anew and the wear of their mats is assessed again. Queries grow with how many different corrections there are.
    """
    rows, new, alike = [row for row, _ in changes], [], defaultdict(list)
    for row, values in changes:
        differing = {name: value for name, value in values.items() if getattr(row, name) != value}
        if row.pk is None:
            new.append(row)
            for name, value in differing.items():
                setattr(row, name, value)
        elif differing:
            alike[tuple(differing.items())].append(row)
    for differing, corrected in alike.items():
        correct_alike(corrected, by=by, reason=reason, **dict(differing))
    _add(new)
    write_days(rows)
    notify_wear([row.mat_id for row in rows], on)
    return rows


def detach(event):
    """Mark an event of a series that was changed alone: changes of the series leave it alone. Its trail says why."""
    if event.series_id and not event.changed_alone:
        Event.objects.filter(pk=event.pk).update(changed_alone=True)
        event.changed_alone = True


def notify_wear(mat_ids, on):
    """Assess again every segment that was ever fitted in these mats: a moved segment takes its events with it."""
    segments = Fitting.objects.filter(mat__in=mat_ids).values_list("segment", flat=True).distinct()
    wear_changed.send(sender=UsageEvent, segment_ids=list(segments.order_by()), on=on)


def check_over(event, states, on):
    if UsageState.WENT in states and event.ends_on > on:
        raise ValidationError(
            f"{event} ends on {short_day(event.ends_on)}, after today, {short_day(on)}: "
            "until then its mats are planned."
        )


def check_in_use(event, mat_ids):
    gone = Mat.objects.filter(pk__in=mat_ids, withdrawn_on__lte=event.starts_on)
    if gone:
        named = ", ".join(f"{mat} (withdrawn on {short_day(mat.withdrawn_on)})" for mat in gone)
        raise ValidationError(f"Withdrawn before {event} starts: {named}.")


def _check_usual_use(event, given):
    """It stands for what passed, and a mat has one of a month."""
    usual = [row for row, values in given if values.basis == UsageBasis.USUAL and values.state != UsageState.CALLED_OFF]
    if any(values.basis == UsageBasis.USUAL and values.state == UsageState.PLANNED for _, values in given):
        raise ValidationError("Usual use is never planned: it stands for a month that has passed.")
    if not usual:
        return
    others = UsageEvent.objects.usual().of_month(event.starts_on).exclude(state=UsageState.CALLED_OFF)
    others = others.filter(mat__in=[row.mat_id for row in usual]).exclude(pk__in=[row.pk for row in usual if row.pk])
    if another := others.select_related("mat", "event").order_by("mat__number").first():
        month = f"{event.starts_on:%B %Y}"
        raise ValidationError(f"{another.mat} has usual use in {month} already: {another.event}. Correct it there.")


def _clean_all(given):
    """The checks of what is new in these values; the rows pointed to exist, so the database is not asked."""
    for values, stored in {(values, UsageValues.of(row) if row.pk else None) for row, values in given}:
        known = [name for name, value in asdict(values).items() if stored and getattr(stored, name) == value]
        UsageEvent(**asdict(values)).clean_fields(exclude=["event", "mat", "recorded_by", "load", *known])
        if values.counts_for < 1:
            raise ValidationError("A usage event counts for 1 event or more.")


def _add(rows):
    with race_refused("Somebody else has just logged one of these mats at this event. Look at the event first."):
        UsageEvent.objects.bulk_create(rows, batch_size=500)
