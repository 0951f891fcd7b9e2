"""Bench days on record, and the readings of one of them."""

from django.db.models import F, Q
from django.http import Http404
from django.shortcuts import get_object_or_404

from fleet.models import Fitting

from ...assessment.bench_day_selectors import withheld_on
from ...models import BenchDay, BenchDaySaid, Instrument, Measurement, ReferenceReading

NOTHING_READ = "Nothing was read on that day with that instrument."


def all_bench_days():
    return BenchDay.objects.newest_first().select_related("instrument")


def bench_days_of(day):
    """Those of a calendar day of which the shift is known, each with its `is_held`."""
    return with_held(all_bench_days().filter(measured_on=day).exclude(shift_db=None), day)


def with_held(days, on):
    """These bench days as a list, each with `is_held`: its piece was off, and nobody looked by `on`."""
    days = list(days)
    withheld = withheld_on(on, [(day.measured_on, day.instrument_id) for day in days])
    for day in days:
        why = withheld.get((day.measured_on, day.instrument_id))
        day.is_held = why is not None and not why.not_trusted
    return days


def get_instrument_or_404(pk):
    """The instrument of that key; None for 0, the readings without one."""
    return get_object_or_404(Instrument, pk=pk) if pk else None


def get_readings_or_404(day, instrument, on):
    """All readings of a bench day made by `on`, void ones included, with the position of their cable on that day."""
    readings = Measurement.objects.filter(measured_on=day, instrument=instrument, measured_on__lte=on)
    found = list(readings.select_related("segment", "instrument").order_by("segment__serial", "repeat"))
    if not found and not _pieces_of(day, instrument).exists():
        raise Http404(NOTHING_READ)
    return found


def get_bench_day_or_404(day, instrument_pk):
    """(day, instrument or None) of a bench day on which a cable or a reference piece was read."""
    instrument = get_instrument_or_404(instrument_pk)
    cables = Measurement.objects.filter(measured_on=day, instrument=instrument)
    if not (cables.exists() or _pieces_of(day, instrument).exists()):
        raise Http404(NOTHING_READ)
    return day, instrument


def days_not_trusted():
    """What was said of the bench days that are not to be trusted, the newest first: they have no shift."""
    return BenchDaySaid.objects.exclude(not_trusted_reason="").select_related("instrument")


def said_of(day, instrument):
    """What was said of the bench day; a row without a key where nothing was yet."""
    said = BenchDaySaid.objects.filter(measured_on=day, instrument=instrument).select_related("instrument").first()
    return said or BenchDaySaid(measured_on=day, instrument=instrument)


def _pieces_of(day, instrument):
    return ReferenceReading.objects.filter(measured_on=day, instrument=instrument)


def places_on(day, segment_ids):
    """{segment id: fitting} of these segments on that day."""
    then = Q(fitted_on__lte=day) & (Q(removed_on=None) | Q(removed_on__gt=day))
    # joined by the readings of the day: SQLite refuses to look up more keys than some
    fittings = Fitting.objects.filter(then, segment__in=segment_ids).select_related("mat")
    return {fitting.segment_id: fitting for fitting in fittings.order_by(F("fitted_on"))}
