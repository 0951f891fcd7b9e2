"""What stands on an event, a mat or a cable segment, and what goes with it once it is deleted: a sentence each."""

import hashlib
from collections import Counter
from dataclasses import dataclass

from django.db.models import Count

from ..choices import StockReason, UsageBasis, UsageState
from ..figures import short_day
from ..models import CableSegment, StockEntry
from ..models.usage import REST_OF_MONTH
from ..parsing.counts import counted
from .faults import is_open

NAMED = 5


@dataclass(frozen=True)
class Deletion:
    """One row with what is said before it is deleted, a sentence each; with one in `stands` it stays."""

    row: object
    stands: tuple[str, ...] = ()
    follows: tuple[str, ...] = ()
    # readings of the cable from its time in that position; they are void where the person says so
    readings: tuple[object, ...] = ()
    # cables of which nothing else is known; they are deleted too where the person says so
    cables: tuple[CableSegment, ...] = ()

    @property
    def mark(self):
        """Stands for exactly what was said, so that an act that came too late is known."""
        said = (self.row.pk, self.stands, self.follows, [*map(str, self.readings)], [*map(str, self.cables)])
        return hashlib.sha256(repr(said).encode()).hexdigest()[:16]


def was_deleted(model, **of):
    """There was such a row, and there is none now."""
    return not model.objects.filter(**of).exists() and model.history.filter(history_type="-", **of).exists()


def deletion_of_event(event):
    return Deletion(event, tuple(_standing_on_event(event)), tuple(_going_with_event(event)))


def _standing_on_event(event):
    rows = event.usage_events.filter(basis=UsageBasis.USUAL)
    if event.name == REST_OF_MONTH or rows.exists():
        yield "It stands for how often mats went in a month. Say that on the page of each mat instead."


def _going_with_event(event):
    states = Counter(event.usage_events.values_list("state", flat=True))
    if went := states[UsageState.WENT]:
        yield f"It no longer counts for the {counted(went, 'mat')} that went."
    if planned := states[UsageState.PLANNED]:
        yield f"{counted(planned, 'planned mat').capitalize()} {'is' if planned == 1 else 'are'} free on its days."
    if event.series and event.series.events.count() == 1:
        yield f"Its series {event.series} goes too: it has no other event."
    yield from notes_going(event)


def standing_on_segment(segment):
    for fitting in segment.fittings.select_related("mat"):
        yield f"It is told to be in {fitting.mat} position {fitting.position} from {fitting.since}. Delete that first."


def ledger_going(segment):
    first = segment.stock_entries.order_by("number").first()
    if first is None:
        return
    yield "What the ledger of the shelf says of it goes with it."
    if pile_taken_from(first):
        yield "It is counted on the shelf without a serial again."


def pile_taken_from(first):
    """The entry by which a cable left its pile as it got its serial, of the first one that names it; or None."""
    taken = {"number": first.number - 1, "reason": StockReason.MOVED, "change": -1}
    return StockEntry.objects.without_serial().filter(**taken).first() if first.reason == StockReason.MOVED else None


def notes_going(subject):
    for note in subject.notes.order_by("code"):
        yield f"Note {note} goes with it: {note.text}"


def standing_on_mat(mat, on):
    used = mat.usage_events.exclude(state=UsageState.CALLED_OFF).exclude(basis=UsageBasis.USUAL)
    used = list(used.select_related("event")[: NAMED + 1])
    for usage in used[:NAMED]:
        yield f"{usage.event}: {usage.state}. Say there that it was called off, or delete that event."
    if len(used) > NAMED:
        yield "There are more events."
    for fault in mat.faults.all():
        if is_open(fault, on):
            yield f"A fault is open since {short_day(fault.reported_on)}: {fault.place}. Close that first."


def going_with_mat(mat):
    if fittings := mat.fittings.count():
        yield f"What is told of {counted(fittings, 'fitting')} goes with it."
    if usual := mat.usage_events.usual().count():
        yield f"Its usual use of {counted(usual, 'month')} goes with it."
    if called_off := mat.usage_events.exclude(basis=UsageBasis.USUAL).filter(state=UsageState.CALLED_OFF).count():
        yield f"{counted(called_off, 'event')} from which it was called off no longer name it."
    for fault in mat.faults.exclude(ended_on=None).annotate(number_of_photos=Count("photos")):
        number = fault.number_of_photos
        photos = f", and so {'do its photos' if number > 1 else 'does its photo'}" if number else ""
        yield f"The closed fault of {short_day(fault.reported_on)} ({fault.place}) goes with it{photos}."
    yield from notes_going(mat)
