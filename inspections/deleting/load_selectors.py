"""A load or a run of *Start here*, before it is taken back: what goes, what stays, what stands against it.

What goes is every row that the load brought, and what it corrected in others is restored. Against it stands what
somebody did since: a row of either that was changed, and whatever else names one of its rows. What others use by now
and nobody did anything to stays: designs, cable types, depots, instruments, and the events that stand for the usual
use of a month.
"""

import hashlib
from dataclasses import dataclass
from itertools import islice

from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from fleet.models import (
    CableSegment,
    CableType,
    Depot,
    DesignPosition,
    Event,
    EventSeries,
    Fault,
    FaultPhoto,
    Fitting,
    Mat,
    MatDay,
    MatDesign,
    Note,
    Price,
    StockEntry,
    UsageEvent,
)
from fleet.models.usage import USUAL_USE
from fleet.selectors.deleting import NAMED
from fleet.selectors.load_corrections import corrected_by, numbers_corrected

from ..models import (
    AgreedValue,
    Batch,
    BatchValue,
    BenchDaySaid,
    Instrument,
    KeptMeaning,
    MatRecord,
    Measurement,
    PolicyValue,
    ReferencePiece,
    ReferenceReading,
    Sample,
    SampledMat,
    Sweep,
    UsedLimits,
    WorkOrder,
    WorkOrderLine,
)
from .standing_selectors import Standing, against_restoring, link_of, words_of

# what stands on something comes before it; no load brings batches and records of mats, and what they name stays
KINDS = (
    *(
        Price,
        BatchValue,
        Batch,
        MatRecord,
        PolicyValue,
        SampledMat,
        Sample,
        WorkOrderLine,
        WorkOrder,
        # in no file: it stands against taking back what it names
        Sweep,
        # said by people of the shape of a sheet, whatever came of its file
        KeptMeaning,
        # in no file: what was put into the policy in one act
        UsedLimits,
        Measurement,
        ReferenceReading,
        AgreedValue,
        ReferencePiece,
        BenchDaySaid,
        FaultPhoto,
        Note,
        Fault,
        MatDay,
        UsageEvent,
        Event,
        EventSeries,
        StockEntry,
    ),
    *(Fitting, CableSegment, Mat, DesignPosition, MatDesign, Depot, Instrument, CableType),
)
SHARED = (Event, EventSeries, DesignPosition, MatDesign, Depot, Instrument, CableType)
# rows without a trail of their own, by the row that they belong to
PARTS = {SampledMat: "sample", WorkOrderLine: "work_order", MatDay: "usage_event"}
KEPT_QUIET = {"version", "recorded_at", "recorded_by", "load"}


@dataclass(frozen=True)
class TakingBack:
    """A load with what is said before it is taken back; with something in `stands` it stays."""

    load: object
    # {model: query of the rows that go}, in the order in which they can
    going: dict
    stays: tuple[str, ...]
    stands: tuple[Standing, ...]
    counts: tuple[tuple[str, int], ...]
    # {model: [Corrected]} of the rows that say again what they said before the load
    restored: dict
    restored_counts: tuple[tuple[str, int], ...]

    @property
    def mark(self):
        """Stands for exactly what was said, so that an act that came too late is known."""
        said = (self.load.pk, self.stays, self.stands, self.counts, self.restored_counts)
        return hashlib.sha256(repr(said).encode()).hexdigest()[:16]


def taking_back(load):
    """The TakingBack of a load that stands; as many queries whatever it brought."""
    going, kept, restored = {}, {}, corrected_by(load)
    look = _Look(load, going, restored)
    for model in KINDS:
        own = _brought(model, load)
        kept[model] = _kept(model, own, look) if model in SHARED else set()
        going[model] = own.exclude(pk__in=kept[model]) if kept[model] else own
    return TakingBack(
        load,
        going,
        stays=tuple(_staying(kept)),
        stands=tuple(dict.fromkeys([*_standing(look), *against_restoring(restored, going)])),
        counts=tuple(_counts({model: rows.count() for model, rows in going.items()})),
        restored=restored,
        restored_counts=tuple(_counts({model: len(rows) for model, rows in restored.items()})),
    )


@dataclass(frozen=True)
class _Look:
    """What others are judged by: {model: query of what goes}, as it fills, and what is restored."""

    load: object
    going: dict
    restored: dict

    def with_positions(self, own):
        return _Look(self.load, self.going | {DesignPosition: own}, self.restored)

    def restored_in(self, model, field):
        """Keys of the rows in which this field is restored: what it points to now is no longer named by them."""
        name = model._meta.get_field(field).attname
        return [each.row.pk for each in self.restored.get(model, ()) if name in each.before]


def brought(load):
    """(words, number) of what the load brought, a kind each; of one that is taken back as its trail says."""
    if load.taken_back_at is None:
        return _counts({model: _brought(model, load).count() for model in KINDS})
    kinds = [model for model in KINDS if model not in PARTS]
    return _counts(
        {model: model.history.model.objects.filter(load=load.pk, history_type="-").count() for model in kinds}
    )


def corrected(load):
    """(words, number) of the rows that the load corrected, a kind each."""
    return list(_counts(numbers_corrected(load)))


def _brought(model, load):
    if model is StockEntry:
        # what the ledger says of a cable goes with it, whoever entered it
        return StockEntry.objects.filter(Q(load=load) | Q(segment__load=load))
    of_load = {f"{PARTS[model]}__load": load} if model in PARTS else {"load": load}
    return model._base_manager.filter(**of_load)


def _counts(numbers):
    for model in reversed(KINDS):
        if numbers.get(model) and model not in PARTS:
            yield (
                str(model._meta.verbose_name_plural if numbers[model] > 1 else model._meta.verbose_name),
                numbers[model],
            )


def _named_by(model):
    """(other model, the name of its field) wherever a row of a kind that is known here names one of this."""
    relations = [(relation.related_model, relation.field.name) for relation in model._meta.related_objects]
    return [(other, field) for other, field in relations if other in KINDS]


def _others(other, field, rows, look):
    """Rows of the other model that name one of these, do not go themselves and are not restored."""
    stay = look.going.get(other, _brought(other, look.load))
    others = other._base_manager.filter(**{f"{field}__in": rows}).exclude(pk__in=stay.values("pk"))
    restored = look.restored_in(other, field)
    return others.exclude(pk__in=restored) if restored else others


def _kept(model, own, look):
    """Keys of the rows of a shared kind that stay: others use them; a position stays with its design."""
    if model is not DesignPosition:
        return _used_by_others(model, own, look)
    designs = MatDesign.objects.filter(positions__in=own)
    used = _used_by_others(MatDesign, designs, look.with_positions(own))
    return set(own.filter(design__in=used).values_list("pk", flat=True))


def _used_by_others(model, own, look):
    """Keys of the rows of a shared kind that are named by what does not go; of events those of usual use alone."""
    own = own.filter(name=USUAL_USE) if model is Event else own
    used = set()
    for other, field in _named_by(model):
        used.update(_others(other, field, own, look).values_list(field, flat=True))
    return used


def _staying(kept):
    for model, keys in kept.items():
        if keys and model not in (DesignPosition, Event):
            rows = sorted(map(str, model._base_manager.filter(pk__in=keys)))
            yield f"{model._meta.verbose_name.capitalize()} {', '.join(rows)} stays: others use it."


def _standing(look):
    going, load = look.going, look.load
    for model, rows in going.items():
        if model not in PARTS:
            yield from _changed(rows)
        for other, field in _named_by(model):
            # the days that a usage event takes go and stay with it, and no page shows them
            if other is not MatDay:
                yield from _some(_others(other, field, rows, look))
    yield from _some(_answered(going[WorkOrderLine], load))
    yield from _some(_counted_since(going[StockEntry]))


def _some(rows):
    """The first few rows, and how many more; of mats at an event the event."""
    if rows.model is UsageEvent:
        rows = Event.objects.filter(usage_events__in=rows).distinct()
    found = list(_with_names(rows)[: NAMED + 1])
    for row in found[:NAMED]:
        yield Standing(f"{words_of(row)}.", link_of(row))
    if len(found) > NAMED:
        yield Standing(f"{rows.count() - NAMED} more {rows.model._meta.verbose_name_plural}.")


def changed_since(rows):
    """Rows that do not say what they said when they were brought; one that was changed and put back is none."""
    rows = rows.filter(version__gt=1)
    states = rows.model.history.filter(id__in=rows.order_by().values("pk")).order_by("-history_id")
    first = {state.id: state for state in states.iterator()}
    return (row for row in _with_names(rows) if _differs(row, first.get(row.pk)))


def _changed(rows):
    changed = list(islice(changed_since(rows), NAMED + 1))
    for row in changed[:NAMED]:
        yield Standing(f"{words_of(row)}: changed since.", link_of(row))
    if len(changed) > NAMED:
        yield Standing(f"More {row._meta.verbose_name_plural} were changed since.")


def _with_names(rows):
    """The rows in order, with the others that their words and links read."""
    names = [field.name for field in rows.model._meta.concrete_fields if field.is_relation]
    return rows.select_related(*names, *(f"{name}__mat" for name in names if name == "fault")).order_by("pk")


def _differs(row, first):
    fields = [field for field in row.history.model.tracked_fields if field.name not in KEPT_QUIET]
    return first is None or any(getattr(row, field.attname) != getattr(first, field.attname) for field in fields)


def _counted_since(entries):
    """Later entries of cables without a serial that were counted together with those that go."""
    same = {name: OuterRef(name) for name in ("cable_type", "length_m", "lot")}
    same = entries.without_serial().filter(**same, number__lt=OuterRef("number"))
    at_depot, nowhere = same.filter(depot=OuterRef("depot")), same.filter(depot=None)
    later = StockEntry.objects.without_serial().exclude(pk__in=entries.values("pk"))
    return later.filter(Exists(at_depot) | (Q(depot=None) & Exists(nowhere)))


def _answered(lines, load):
    """Lines of its work orders that somebody answered with a cable of their own since it was brought."""
    brought_cables = CableSegment.objects.filter(load=load)
    since = lines.filter(done_on__gte=timezone.localdate(load.loaded_at))
    return since.exclude(new_segment=None).exclude(new_segment__in=brought_cables)
