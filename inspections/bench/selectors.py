"""What the bench page shows: mats to choose from, and one mat's positions in order."""

from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, F, Max, Prefetch, Q

from fleet.models import CableSegment, Fitting, Mat

from ..models import Assessment, Instrument, Measurement
from ..numeric.words import WITHOUT_LOSS
from .place_selectors import in_places_with_bench
from .reading_selectors import judged, withheld_from


@dataclass(frozen=True)
class DayReading:
    """A reading of the day that is being typed, with its judgement."""

    reading: Measurement
    judgement: object


@dataclass(frozen=True)
class BenchRow:
    """One position of a mat on the day of measuring; `segment` None: empty.

    `position` None: the segment is not in the mat on that day, but a loss was typed for it.
    """

    position: int | None
    # what says how long the cable is; None: the design knows no such position
    build: object = None
    segment: CableSegment | None = None
    # the day of fitting, where it is known for certain
    fitted_on: object = None
    that_day: list[DayReading] = field(default_factory=list)
    # the newest one with a loss, where what counts is the word of a go/no-go tester
    last_number: DayReading | None = None

    @property
    def length_m(self):
        return self.build and self.build.length_m

    @property
    def assessment(self):
        return getattr(self.segment, "assessment", None)


def mats_at_bench(on, text=""):
    """Mats in use, those that ask for a measurement first, then those measured longest ago (never: before them).

    Those of depots without a bench only when they are asked for by `text`.
    """
    asking = Assessment.objects.exclude(measure_reason="").order_by("position")
    mats = (
        Mat.objects.in_use(on)
        .with_register()
        .annotate(
            asking=Count("assessments", filter=~Q(assessments__measure_reason="")),
            measured_on=Max("assessments__measured_on"),
        )
        .prefetch_related(Prefetch("assessments", queryset=asking, to_attr="asking_cables"))
        .order_by("-asking", F("measured_on").asc(nulls_first=True), "number")
    )
    return mats.filter(_named(text, on) if text else in_places_with_bench())


def count_left_out(on):
    """How many mats in use the bench does not list: their depots have none."""
    mats = Mat.objects.in_use(on)
    return mats.count() - mats.filter(in_places_with_bench()).count()


def specified_mat(text, on):
    """The one mat that the words name: its number, the only one that contains them, or the mat of that cable."""
    mats = list(mats_at_bench(on, text)[:2])
    exact = Mat.objects.in_use(on).filter(number__iexact=text).first()
    return exact or (mats[0] if len(mats) == 1 else None)


def bench_rows(mat, day, criteria, typed_segment_ids=()):
    """The mat's positions on that day, in order, and after them segments that were typed for but are not there."""
    here = mat.fittings.current(day).select_related("segment__assessment", "segment__cable_type")
    fittings = {f.position: f for f in here}
    segments = [f.segment for f in fittings.values()]
    readings = _readings_of_day(segments, day, criteria)
    numbers = _last_numbers(segments, day, criteria)
    planned = {position.number: position for position in mat.design.positions.all()}
    rows = [
        _row(position, planned.get(position), fittings.get(position), readings, numbers)
        for position in sorted({*planned, *fittings})
    ]
    elsewhere = set(typed_segment_ids) - {segment.pk for segment in segments}
    return rows + [BenchRow(None, segment, segment) for segment in _once_in(mat, elsewhere)]


def instruments_in_use(on):
    return Instrument.objects.in_use(on)


def _named(text, on):
    of_cable = Fitting.objects.current(on).filter(segment__serial__iexact=text).values("mat")
    return Q(number__icontains=text) | Q(pk__in=of_cable)


def _row(position, planned, fitting, readings, numbers):
    if fitting is None:
        return BenchRow(position, planned)
    segment = fitting.segment
    of_day, number = readings.get(segment.pk, []), numbers.get(segment.pk)
    return BenchRow(position, segment, segment, fitting.known_day, of_day, number)


def _last_numbers(segments, day, criteria):
    """{segment's key: DayReading} of those of which only the word of a tester stands in their assessment."""
    said = [each for each in segments if getattr(each, "assessment", None) and each.assessment.go_no_go]
    if not said:
        return {}
    readings = Measurement.objects.valid_on(day).filter(measured_on__lte=day, segment__in=said, loss_db__isnull=False)
    readings = readings.exclude(method__in=WITHOUT_LOSS).select_related("instrument").order_by("measured_on", "repeat")
    judged_rows = (DayReading(reading, judged(reading, criteria)) for reading in readings)
    return {each.reading.segment_id: each for each in judged_rows if each.judgement.reference_loss_db is not None}


def _readings_of_day(segments, day, criteria):
    readings = (
        Measurement.objects.valid_on(day)
        .filter(measured_on=day, segment__in=segments)
        .select_related("instrument")
        .order_by("repeat")
    )
    # whatever somebody said of that day since
    by_segment, withheld = {}, withheld_from(readings, date.max)
    for reading in readings:
        by_segment.setdefault(reading.segment_id, []).append(DayReading(reading, judged(reading, criteria, withheld)))
    return by_segment


def _once_in(mat, segment_ids):
    """Only segments that the page can have shown: those that were in this mat at some time."""
    if not segment_ids:
        return []
    return CableSegment.objects.filter(pk__in=segment_ids, fittings__mat=mat).distinct()
