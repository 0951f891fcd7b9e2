"""What became of the mats at an event: planned, went, called off."""

from collections import defaultdict

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import UsageState
from ..models import Event, UsageEvent
from ..parsing.whole_numbers import read_whole
from ..selectors.seen import version_of
from .mat_days import takes_days
from .settling import UsageValues, changed_meanwhile, check_over, check_seen, in_words, lock_event, notify_wear, settle
from .whereabouts import check_home_on

EVERY_STATE = frozenset(UsageState)


def log_event(event, usage, *, by, on, seen="", confirmed=""):
    """Log what became of mats at an event; `usage`: mat -> UsageValues. Returns the usage events written.

    A mat already planned for or called off from the event is changed, one that went with the same values is left, one
    that went with other values refused. Raises as `settle` does, and where one of these mats, or the event, is not as
    `seen`: the `versions_of` that event on the page; of another event or empty: nobody looked.
    """
    with transaction.atomic():
        event = lock_event(event, usage)
        rows = event.usage_events.select_related("mat").filter(mat__in=list(usage))
        existing = {row.mat_id: row for row in rows}
        given = {existing.get(mat.pk, mat): values for mat, values in usage.items()}
        given = {target: values for target, values in given.items() if not _says(target, values)}
        if not given:
            return []
        # first what says more: both values
        _check_none_went(event, {row: values for row, values in given.items() if row in existing.values()})
        _check_seen(event, [row for row in existing.values() if row in given], seen.split())
        rest = {"confirmed": confirmed, "may_leave_out": True}
        return settle(event, given, by=by, on=on, reason="logged", **rest)


def _says(target, values):
    return isinstance(target, UsageEvent) and UsageValues.of(target) == values


def _check_seen(event, rows, seen):
    looked_at = seen[0].partition(".")[0] if seen else ""
    if (number := read_whole(looked_at)) is not None and not Event.objects.filter(pk=number).exists():
        raise ValidationError("The event that your page showed was deleted meanwhile. Choose the event again.")
    looked = looked_at == str(event.pk)
    if looked and any(version_of(row) not in seen for row in (event, *rows)):
        raise changed_meanwhile(event, rows)


def _check_none_went(event, given):
    """`given`: usage event -> the values that were sent for it. Both are named, for no page merges them."""
    differ = defaultdict(list)
    for row, values in given.items():
        if row.state == UsageState.WENT:
            differ[in_words(row), in_words(values)].append(str(row.mat))
    if differ:
        said = "; ".join(
            f"{', '.join(sorted(mats))}: stored is {there}, you sent {sent}" for (there, sent), mats in differ.items()
        )
        raise ValidationError(
            f"Already logged at {event} with other values. {said}. Nothing was changed. Where what is stored is right, "
            "you need do nothing more. Else tell a keeper, who corrects it on the event's page."
        )


def answer_event(event, state, *, by, on, seen_version=None, confirmed=""):
    """*Went* or *called off* for all mats still planned for the event; returns how many were answered.

    Nothing is left to answer: 0, so that a second tap does no harm. Raises as `settle` does, and where `seen_version`,
    the `planned_mark` of the page, no longer holds.
    """
    if state not in (UsageState.WENT, UsageState.CALLED_OFF):
        raise ValidationError("Answer with went or called off.")
    with transaction.atomic():
        waiting = event.usage_events.filter(state=UsageState.PLANNED)
        event = lock_event(event)
        rows = list(waiting.select_related("mat"))
        check_over(event, [state], on)
        if not rows:
            return 0
        check_seen(event, rows, seen_version)
        given = {row: UsageValues.of(row, state=state) for row in rows}
        reason = "answered for the whole event"
        return len(settle(event, given, by=by, on=on, reason=reason, confirmed=confirmed))


def correct_usage_event(usage_event, *, by, on, reason="", seen_version=None, confirmed="", **values):
    """Correct what is known of one mat at one event; the old values stay in its trail. Raises as `settle` does.

    A changed state detaches an event of a series whatever it becomes. What is called off came home on no day.
    """
    seen_version = usage_event.version if seen_version is None else seen_version
    rest, home_on = {"by": by, "reason": reason}, values.get("home_on")
    with transaction.atomic():
        event = lock_event(usage_event.event)
        usage_event.refresh_from_db(fields=["version", "shares_a_day", "home_on", *UsageValues.__dataclass_fields__])
        usage_event.check_version(seen_version)
        given = UsageValues.of(usage_event, **{name: value for name, value in values.items() if name != "home_on"})
        if given.state == UsageState.CALLED_OFF:
            values["home_on"] = None
        elif home_on != usage_event.home_on:
            check_home_on(event, home_on, on)
        if given.state != usage_event.state or takes_days(given) != takes_days(usage_event):
            settle(event, {usage_event: given}, on=on, confirmed=confirmed, detached_by=EVERY_STATE, **rest)
            values = {name: value for name, value in values.items() if name == "home_on"}
        if any(getattr(usage_event, name) != value for name, value in values.items()):
            usage_event.correct(**rest, **values)
            notify_wear([usage_event.mat_id], on)
    return usage_event


def call_off(usage_event, *, by, on, reason="", seen_version=None):
    """The mat does not go, or did not: its day is free again and nothing counts."""
    return correct_usage_event(
        usage_event, by=by, on=on, reason=reason, seen_version=seen_version, state=UsageState.CALLED_OFF
    )
