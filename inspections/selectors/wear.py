"""Everything that says how worn segments are, read as columns: one query a table, for some segments or all.

Only records dated on or before the day are seen, and planned events.
"""

from dataclasses import dataclass

import numpy as np
from django.db.models import F, Q

from fleet.choices import FittedBasis, UsageState
from fleet.models import Event, Fault, Fitting, UsageEvent

from ..choices import Taken
from ..models import Measurement
from .columns import columns, day, days, floats, integers, yes


@dataclass(frozen=True)
class Fittings:
    """All fittings begun by the day, by segment and day; `in_service` marks those that are assessed."""

    segment: np.ndarray
    mat: np.ndarray
    mat_number: np.ndarray
    position: np.ndarray
    fitted_on: np.ndarray
    basis: np.ndarray
    removed_on: np.ndarray
    in_service: np.ndarray
    design: np.ndarray
    depot: np.ndarray  # 0: none
    length_m: np.ndarray
    as_new_loss_db: np.ndarray
    events_before: np.ndarray

    def take(self, rows):
        return Fittings(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class Usage:
    """Usage events that went, or are or were planned."""

    mat: np.ndarray
    event: np.ndarray
    starts_on: np.ndarray
    ends_on: np.ndarray
    planned: np.ndarray
    counts_for: np.ndarray


@dataclass(frozen=True)
class Readings:
    """Readings not taken back by the day. NaN frequency: the reference one; NaN uncertainty: the policy's."""

    segment: np.ndarray
    day: np.ndarray
    repeat: np.ndarray
    after_cleaning: np.ndarray
    loss_db: np.ndarray
    frequency_mhz: np.ndarray
    temperature_c: np.ndarray
    uncertainty_db: np.ndarray
    no_through: np.ndarray
    doubtful: np.ndarray


def read_fittings(on, segment_ids=None):
    fittings = Fitting.objects.all() if segment_ids is None else Fitting.objects.filter(segment__in=segment_ids)
    asked = {
        "segment": "segment",
        "mat": "mat",
        "mat_number": "mat__number",
        "position": "position",
        "fitted_on": day("fitted_on"),
        "basis": "fitted_basis",
        "removed_on": day("removed_on"),
        "withdrawn_on": day("mat__withdrawn_on"),
        "design": "mat__design",
        "depot": "mat__depot",
        "length_m": "segment__length_m",
        "as_new_loss_db": "segment__as_new_loss_db",
        "events_before": "segment__events_before",
    }
    read = dict(zip(asked, columns(fittings.filter(fitted_on__lte=on), *asked.values()), strict=True))
    removed_on, withdrawn_on, seen_on = days(read["removed_on"]), days(read["withdrawn_on"]), np.datetime64(on, "D")
    found = Fittings(
        segment=integers(read["segment"]),
        mat=integers(read["mat"]),
        mat_number=np.array(read["mat_number"], dtype=object),
        position=integers(read["position"]),
        fitted_on=days(read["fitted_on"]),
        basis=np.array(read["basis"], dtype=object),
        removed_on=removed_on,
        in_service=~(removed_on <= seen_on) & ~(withdrawn_on <= seen_on),
        design=integers(read["design"]),
        depot=integers([depot or 0 for depot in read["depot"]]),
        length_m=floats(read["length_m"]),
        as_new_loss_db=floats(read["as_new_loss_db"]),
        events_before=np.nan_to_num(floats(read["events_before"])).astype(np.int64),
    )
    return found.take(np.lexsort((found.fitted_on, found.segment)))


def read_usage(mat_ids=None):
    """Usage of these mats (None: of all), called off left out. Days come from the events, read once each."""
    usage = UsageEvent.objects.exclude(state=UsageState.CALLED_OFF)
    events = Event.objects.all()
    if mat_ids is not None:
        usage = usage.filter(mat__in=mat_ids)
        events = events.filter(pk__in=usage.values("event"))
    event, starts_on, ends_on = columns(events, "pk", day("starts_on"), day("ends_on"))
    rows = columns(usage, "mat", "event", yes(Q(state=UsageState.PLANNED)), "counts_for")
    of_event = integers(rows[1])
    order = np.argsort(integers(event))
    at = order[np.searchsorted(integers(event)[order], of_event)] if len(of_event) else np.zeros(0, int)
    return Usage(
        mat=integers(rows[0]),
        event=of_event,
        starts_on=days(starts_on)[at],
        ends_on=days(ends_on)[at],
        planned=np.array(rows[2], dtype=bool),
        counts_for=integers(rows[3]),
    )


def read_readings(on, segment_ids=None):
    readings = Measurement.objects.standing_on(on)
    if segment_ids is not None:
        readings = readings.filter(segment__in=segment_ids)
    rows = columns(
        readings,
        "segment",
        day("measured_on"),
        "repeat",
        yes(Q(taken=Taken.AFTER_CLEANING)),
        "loss_db",
        "frequency_mhz",
        "temperature_c",
        "instrument__standard_uncertainty_db",
        yes("no_through"),
        yes(~Q(doubtful_because="")),
    )
    return Readings(
        segment=integers(rows[0]),
        day=days(rows[1]),
        repeat=integers(rows[2]),
        after_cleaning=np.array(rows[3], dtype=bool),
        loss_db=floats(rows[4]),
        frequency_mhz=floats(rows[5]),
        temperature_c=floats(rows[6]),
        uncertainty_db=floats(rows[7]),
        no_through=np.array(rows[8], dtype=bool),
        doubtful=np.array(rows[9], dtype=bool),
    )


def read_cable_faults(on, segment_ids=None):
    """Open faults of a cable or connector: (segment, reported_on, place), of the segment that was there that day.

    A fault goes with its segment: fitted elsewhere it is still damaged, and what took its place is not.
    """
    fitted_then = Q(
        mat__fittings__position=F("position"),
        mat__fittings__fitted_on__lte=F("reported_on"),
    ) & (Q(mat__fittings__removed_on=None) | Q(mat__fittings__removed_on__gt=F("reported_on")))
    if segment_ids is not None:
        fitted_then &= Q(mat__fittings__segment__in=segment_ids)
    # one filter() call: all conditions on the fitting must hold of one and the same fitting
    faults = Fault.objects.open_on(on).of_cables().filter(fitted_then)
    return sorted(
        faults.order_by().values_list("mat__fittings__segment", "reported_on", "place"), key=lambda fault: fault[1]
    )


NOT_LATER_THAN = FittedBasis.NOT_LATER_THAN.value
