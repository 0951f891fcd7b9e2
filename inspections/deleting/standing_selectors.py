"""What stands against taking a load back, in words that say which row it is and where it can be looked at."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from fleet.models import CableSegment, Event, Fault, Fitting, Mat, MatDesign, Note, Price, StockEntry
from fleet.selectors.deleting import NAMED
from fleet.selectors.load_corrections import lost_targets

from ..models import BenchDaySaid, MatRecord, Measurement, Sample, SampledMat, Sweep, WorkOrder, WorkOrderLine

WORDS = {
    Price: "{0}",
    Sweep: "{0}",
    Measurement: "Reading of {0}",
    BenchDaySaid: "What was said of bench day {0}",
    Fault: "Fault of {0}",
    Note: "Note {0}: {0.text}",
    SampledMat: "Sample {0.sample}, {0.mat}",
    Sample: "Sample {0}",
    WorkOrderLine: "Work order {0.work_order}, position {0.position}",
    WorkOrder: "Work order {0}",
    MatRecord: "Record {0}",
    StockEntry: "Entry {0}",
    Fitting: "{0}",
    CableSegment: "Cable {0}",
    Mat: "{0.at_start}",
    Event: "Event {0}",
    MatDesign: "Design {0}",
}


@dataclass(frozen=True)
class Standing:
    """One thing that keeps the load from being taken back, with the page where it can be looked at."""

    sentence: str
    url: str = ""


def words_of(row):
    return WORDS.get(type(row), row._meta.verbose_name.capitalize() + " {0}").format(row)


def link_of(row):
    """The page of the row, or of the first thing it belongs to that has one; "" where there is none."""
    for name in ("event", "work_order", "mat", "segment", "design", "fault", "piece"):
        if hasattr(row, "get_absolute_url"):
            break
        row = getattr(row, name, None) or row
    return row.get_absolute_url() if hasattr(row, "get_absolute_url") else ""


def against_restoring(restored, going):
    """What was changed again since, what would point to what is there no more, and cables in places that are taken."""
    yield from _in_places_taken(restored.get(Fitting, ()), going[Fitting])
    for rows in restored.values():
        changed, lost = [each for each in rows if each.is_changed_since], lost_targets(rows)
        for found, why in ((changed, "changed since"), (lost, "what it said before is there no more")):
            for each in found[:NAMED]:
                yield Standing(f"{words_of(each.row)}: {why}.", link_of(each.row))
            if len(found) > NAMED:
                yield Standing(f"{len(found) - NAMED} more {found[0].model._meta.verbose_name_plural}: {why}.")


def _in_places_taken(corrected, going):
    """Cables that are where, and while, another one would be again. `going`: fittings that the load itself brought."""
    ends = [each for each in corrected if "removed_on" in each.before]
    if not ends:
        return
    rows = [each.row for each in ends]
    beside = Q(segment__in=[row.segment_id for row in rows]) | Q(mat__in=[row.mat_id for row in rows])
    others = Fitting.objects.filter(beside).exclude(pk__in=going.values("pk")).select_related("segment", "mat")
    again = {each.row.pk: each.before["removed_on"] for each in ends}
    others = list(others.exclude(pk__in=again).order_by("pk"))
    for row in rows:
        for other in others:
            same = other.segment_id == row.segment_id or (other.mat_id, other.position) == (row.mat_id, row.position)
            if same and _overlap(row.fitted_on, again[row.pk], other):
                yield Standing(f"{other}: it took the place of what came out by this load.", link_of(other))


def _overlap(fitted_on, removed_on, other):
    return fitted_on < (other.removed_on or date.max) and other.fitted_on < (removed_on or date.max)
