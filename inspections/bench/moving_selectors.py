"""Readings that were typed for the wrong mat: which of them go together, and where each would belong."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from fleet.figures import short_day
from fleet.models import Fitting

from ..models import Instrument, Measurement


@dataclass(frozen=True)
class ReadingSet:
    """Readings of one mat and day that count; `instrument` is the one that took them all, None: any."""

    day: date
    readings: list
    instrument: Instrument | None = None
    of_one: bool = False

    @property
    def key(self):
        """By which a form names it; "0": no instrument was recorded."""
        return f"{self.day}.{self.instrument.pk if self.instrument else 0}" if self.of_one else f"{self.day}"


@dataclass(frozen=True)
class Move:
    """One reading, the position it was typed for, and the fitting that was in that position of the other mat."""

    reading: Measurement
    position: int
    there: Fitting | None
    refusal: str = ""


def reading_sets(mat, on):
    """Every `ReadingSet` of the mat, newest day first; a day of several instruments also by each of them."""
    by_day = defaultdict(list)
    for reading, _ in _counted_readings(mat, on):
        by_day[reading.measured_on].append(reading)
    return [found for day in sorted(by_day, reverse=True) for found in _sets_of_day(day, by_day[day])]


def moves_to(mat, other, readings, on):
    """A `Move` for each of these readings of one day, by position; its `refusal` says why it cannot be made."""
    day = readings[0].measured_on
    place_of = {reading.pk: position for reading, position in _counted_readings(mat, on, day)}
    there = {fitting.position: fitting for fitting in other.fittings.current(day).select_related("segment")}
    taken = _repeats_of([fitting.segment_id for fitting in there.values()], day, on)
    moves = [
        _move(reading, place_of[reading.pk], there, taken, other) for reading in readings if reading.pk in place_of
    ]
    return sorted(moves, key=lambda move: (move.position, move.reading.repeat))


def _counted_readings(mat, on, day=None):
    """(reading, its position) of all that count and were taken while their cable was in the mat; two queries."""
    fittings = defaultdict(list)
    for fitting in mat.fittings.all():
        fittings[fitting.segment_id].append(fitting)
    readings = Measurement.objects.valid_on(on).filter(segment__in=list(fittings))
    if day is not None:
        readings = readings.filter(measured_on=day)
    for reading in readings.select_related("segment", "instrument").order_by("measured_on", "repeat"):
        here = [fitting for fitting in fittings[reading.segment_id] if fitting.covers(reading.measured_on)]
        if here:
            yield reading, here[0].position


def _sets_of_day(day, readings):
    by_instrument = defaultdict(list)
    for reading in readings:
        by_instrument[reading.instrument].append(reading)
    yield ReadingSet(day, readings)
    if len(by_instrument) > 1:
        for instrument, of_one in by_instrument.items():
            yield ReadingSet(day, of_one, instrument, of_one=True)


def _repeats_of(segment_ids, day, on):
    """{segment id: repeats that count on that day}"""
    repeats = defaultdict(set)
    counted = Measurement.objects.valid_on(on).filter(segment__in=segment_ids, measured_on=day)
    for segment, repeat in counted.values_list("segment", "repeat"):
        repeats[segment].add(repeat)
    return repeats


def _move(reading, position, there, taken, other):
    fitting, day = there.get(position), f"{short_day(reading.measured_on)}"
    if fitting is None:
        return Move(reading, position, None, f"Position {position} of {other} held no cable on {day}.")
    if reading.repeat in taken[fitting.segment_id]:
        said = f"Position {position} of {other} has a reading of {day} with repeat {reading.repeat} already."
        return Move(reading, position, fitting, said)
    return Move(reading, position, fitting)
