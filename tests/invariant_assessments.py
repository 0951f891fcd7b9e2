"""What is derived from records is what making it anew from all of them gives."""

from math import isclose

from fleet.models import Fitting
from inspections.assessment.new_days import read_known
from inspections.assessment.pool_fits import stored_fit
from inspections.assessment.services import assessments
from inspections.models import Assessment, BenchDay, PoolState

# an assessment of few segments sums what one of the whole pool sums, in another order
SAME_FLOAT = 1e-9
DERIVED = ("readings", "piece_readings", "shift_db", "shift_sd_db")


def assessments_are_fresh():
    """Every segment in service has one row, as assessing it from all records gives it."""
    day = _assessed_on()
    if day is None:
        return
    fitted = set(Fitting.objects.in_service(day).values_list("segment", flat=True))
    kept = set(Assessment.objects.values_list("segment", flat=True))
    for segment in sorted(fitted ^ kept):
        yield f"segment {segment} is in service or assessed, and not both"
    for day in sorted(set(Assessment.objects.values_list("assessed_on", flat=True))):
        yield from stale_assessments(day, Assessment.objects.filter(assessed_on=day))


def stale_assessments(on, kept):
    """Of these rows, assessed on that day: those that assessing the pool from all records does not give."""
    fresh = {row.segment_id: row for row in assessments(on, fitted=stored_fit())}
    for row in kept:
        if row.segment_id not in fresh:
            yield f"assessment of segment {row.pk}: it is not in service"
        elif differing := _differing(row, fresh[row.segment_id]):
            yield f"assessment of segment {row.pk}: differs from one made now in {', '.join(differing)}"


def _differing(kept, fresh):
    names = [field.attname for field in kept._meta.concrete_fields]
    return [name for name in names if not _same(getattr(kept, name), getattr(fresh, name))]


def _same(one, other):
    if isinstance(one, float) and isinstance(other, float):
        return isclose(one, other, rel_tol=SAME_FLOAT, abs_tol=SAME_FLOAT)
    return one == other


def new_bench_days_are_fresh():
    """Each bench day that is newer than the fit is kept with the shift that its readings tell."""
    fitted, day = stored_fit(), _assessed_on()
    if fitted is None or day is None:
        return
    fresh = {(row.measured_on, row.instrument_id): row for row in read_known(day, fitted).rows}
    kept = {(row.measured_on, row.instrument_id): row for row in BenchDay.objects.filter(in_fit=False)}
    for key in sorted(fresh.keys() ^ kept.keys(), key=str):
        yield f"a new bench day is kept or has readings, and not both: {key}"
    for key in fresh.keys() & kept.keys():
        if differing := [name for name in DERIVED if not _same(getattr(kept[key], name), getattr(fresh[key], name))]:
            yield f"bench day {kept[key]}: differs from one made now in {', '.join(differing)}"


def _assessed_on():
    """None: the next page assesses the pool."""
    state = PoolState.objects.first()
    return state and state.assessed_on
