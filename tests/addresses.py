"""Every address of the project, and a row of most kinds to fill the codes in them."""

import re

from django.urls import URLPattern, get_resolver
from django.utils import timezone
from factories import (
    make_batch,
    make_batch_value,
    make_depot,
    make_event,
    make_fault,
    make_instrument,
    make_link,
    make_mat,
    make_note,
    make_photo,
    make_piece,
    make_piece_reading,
    make_pile,
    make_price,
    make_reading,
    make_series,
    make_sweep,
    make_usage_event,
    make_used_limits,
)

from fleet.models import Load
from inspections.assessment.services import assess_pool
from inspections.models import AssessmentRun
from inspections.records.contents import content_of, read_told
from inspections.records.services import make_record
from inspections.sampling.services import draw_sample
from inspections.workshop.services import raise_work_orders

OPEN = {"sign-in", "first-account", "sign-in-by-link", "calendar-feed"}
# a file that is written while it goes out
FILES_OUT = {"files-export", "files-workbook", "files-template"}


def all_patterns(patterns=None, route=""):
    """(name, route) of every address of the project."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        whole = route + str(pattern.pattern)
        if isinstance(pattern, URLPattern):
            yield pattern.name or "", whole
        else:
            yield from all_patterns(pattern.url_patterns, whole)


PATTERNS = sorted(set(all_patterns()))
CLOSED = [(name, route) for name, route in PATTERNS if name not in OPEN]


def address(route, examples):
    """The address of an example; a number, day or code nobody has where there is none."""
    subject, unknown = route.split("/")[0], {"int": "1", "day": "2001-01-01"}

    def fill(part):
        kind, _, name = part[1].rpartition(":")
        return str(examples.get((subject, name), examples.get(name, unknown.get(kind, "none-such"))))

    return "/" + re.sub(r"<([^>]+)>", fill, route)


def make_examples():
    """A row of most kinds, so that a view without a gate would find something to change."""
    mat = make_mat("M-901", fitted=True, depot=make_depot("Quay"))
    fitting = mat.fittings.select_related("segment__cable_type").first()
    event = make_event(series=make_series())
    make_usage_event(mat, event, state="planned")
    fault, reading, instrument = make_fault(mat), make_reading(fitting.segment), make_instrument("bridge")
    on = timezone.localdate()
    value = make_batch_value(make_batch("B-901"))
    photo, piece = make_photo(fault), make_piece("kept cable")
    of_piece = make_piece_reading(piece)
    sweep = make_sweep(fitting.segment)
    make_pile(fitting.segment.cable_type, fitting.segment.length_m, mat.depot)
    # else the first page of the day would write what is derived from all this
    assess_pool(on)
    (order,) = raise_work_orders([fitting.segment.pk], by=None, on=on)
    record = make_record(mat, content_of(read_told(mat, None, on)), by=None, on=on)
    return {
        "serial": fitting.segment.serial,
        "number": mat.number,
        "name": instrument.name,
        ("events", "code"): event.code,
        ("series", "pk"): event.series.pk,
        ("designs", "code"): mat.design.code,
        ("designs", "number"): 1,
        ("cable-types", "name"): fitting.segment.cable_type.name,
        ("prices", "pk"): make_price(fitting.segment.cable_type).pk,
        ("depots", "name"): mat.depot.name,
        ("shelf", "name"): fitting.segment.cable_type.name,
        ("shelf", "length_m"): f"{fitting.segment.length_m:g}",
        ("people", "name"): "keeper",
        ("people", "pk"): make_link().pk,
        ("readings", "pk"): reading.pk,
        ("bench", "name"): piece.name,
        ("agreed-values", "pk"): piece.values.get().pk,
        ("piece-readings", "pk"): of_piece.pk,
        ("bench-days", "day"): reading.measured_on.isoformat(),
        ("bench-days", "instrument"): 0,
        ("faults", "pk"): fault.pk,
        ("photos", "pk"): photo.pk,
        ("photos", "sha256"): photo.sha256,
        ("cables", "pk"): fitting.pk,
        ("sweeps", "pk"): sweep.pk,
        ("notes", "code"): make_note(mat).code,
        ("lives", "pk"): make_used_limits(mat.design, on).pk,
        ("files", "pk"): Load.objects.create().pk,
        ("policy", "code"): mat.design.code,
        ("policy", "pk"): AssessmentRun.objects.create(assessed_on=on, segments=4).pk,
        ("work-orders", "number"): order.number,
        ("batches", "number"): "B-901",
        ("batches", "pk"): value.pk,
        ("records", "number"): record.number,
        ("samples", "number"): draw_sample(by=None, on=on, seed=1, rule="typed", size=1).number,
    }
