"""Everything that says how worn segments are, read as columns: one query a table, for some segments or all.

Only records dated on or before the day are seen, and planned events.
"""

from dataclasses import dataclass

import numpy as np
from django.db.models import Case, F, Q, Value, When

from fleet.choices import UsageBasis, UsageState
from fleet.models import Event, Fault, Fitting, UsageEvent

from ..choices import Taken
from ..models import Instrument, Measurement
from ..numeric.words import SHOWN_BY_METHOD, SHOWN_BY_WORD, Shown
from .columns import columns, day, number, whole, word, yes

# more than any cable sees; with all that is logged beside it the count still has room in its column
MOST_EVENTS = 1_000_000_000


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
    usual: np.ndarray
    counts_for: np.ndarray


@dataclass(frozen=True)
class Readings:
    """Readings not void by the day, as they were shown. NaN frequency: the reference one. `instrument` 0: none."""

    segment: np.ndarray
    day: np.ndarray
    repeat: np.ndarray
    after_cleaning: np.ndarray
    number_db: np.ndarray
    shown: np.ndarray
    frequency_mhz: np.ndarray
    temperature_c: np.ndarray
    instrument: np.ndarray
    no_signal: np.ndarray
    doubtful: np.ndarray

    def take(self, rows):
        return Readings(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class Instruments:
    """All instruments by key, and before them 0: none. NaN uncertainty: not known; NaN set limit: it has none."""

    key: np.ndarray
    uncertainty_db: np.ndarray
    made_for_reflection: np.ndarray
    set_limit_db: np.ndarray

    def rows_of(self, keys):
        return np.searchsorted(self.key, keys)


def read_fittings(on, segment_ids=None):
    fittings = Fitting.objects.all() if segment_ids is None else Fitting.objects.filter(segment__in=segment_ids)
    seen_on = np.datetime64(on, "D")
    read = columns(
        fittings.filter(fitted_on__lte=on),
        segment=whole("segment"),
        mat=whole("mat"),
        mat_number=word("mat__number"),
        position=whole("position"),
        fitted_on=day("fitted_on"),
        basis=word("fitted_basis"),
        removed_on=day("removed_on"),
        withdrawn_on=day("mat__withdrawn_on"),
        design=whole("mat__design"),
        depot=whole("mat__depot"),
        length_m=number("segment__length_m"),
        as_new_loss_db=number("segment__as_new_loss_db"),
        events_before=whole("segment__events_before"),
    )
    read["events_before"] = np.minimum(read["events_before"], MOST_EVENTS)
    withdrawn = read.pop("withdrawn_on") <= seen_on
    found = Fittings(**read, in_service=~(read["removed_on"] <= seen_on) & ~withdrawn)
    return found.take(np.lexsort((found.fitted_on, found.segment)))


def read_usage(mat_ids=None):
    """Usage of these mats (None: of all), called off left out. Days come from the events, read once each."""
    usage = UsageEvent.objects.exclude(state=UsageState.CALLED_OFF)
    events = Event.objects.all()
    if mat_ids is not None:
        usage = usage.filter(mat__in=mat_ids)
        events = events.filter(pk__in=usage.values("event"))
    event = columns(events, key=whole("pk"), starts_on=day("starts_on"), ends_on=day("ends_on"))
    read = columns(
        usage,
        mat=whole("mat"),
        event=whole("event"),
        planned=yes(Q(state=UsageState.PLANNED)),
        usual=yes(Q(basis=UsageBasis.USUAL)),
        counts_for=whole("counts_for"),
    )
    order = np.argsort(event["key"])
    index = order[np.searchsorted(event["key"][order], read["event"])]
    return Usage(**read, starts_on=event["starts_on"][index], ends_on=event["ends_on"][index])


def read_readings(on, segment_ids=None, reasons=None):
    """Readings by that day of these segments (None: of all), taken for these MeasurementReasons (None: for any)."""
    readings = Measurement.objects.valid_on(on)
    if reasons is not None:
        readings = readings.filter(reason__in=reasons)
    if segment_ids is not None:
        readings = readings.filter(segment__in=segment_ids)
    read = columns(
        readings,
        segment=whole("segment"),
        day=day("measured_on"),
        repeat=whole("repeat"),
        after_cleaning=yes(Q(taken=Taken.AFTER_CLEANING)),
        number_db=number("loss_db"),
        shown=whole(_shown()),
        frequency_mhz=number("frequency_mhz"),
        temperature_c=number("temperature_c"),
        instrument=whole("instrument"),
        doubtful=yes(~Q(doubt_reason="")),
    )
    # the database holds one of three: a number, *no signal*, or what a go/no-go tester said
    by_word = np.isin(read["shown"], list(SHOWN_BY_WORD.values()))
    return Readings(**read, no_signal=np.isnan(read["number_db"]) & ~by_word)


def _shown():
    """Shown of a reading, as `shown_by` has it of one."""
    by_word = [When(go_no_go=word.value, then=Value(int(shown))) for word, shown in SHOWN_BY_WORD.items()]
    by_method = [When(method=method.value, then=Value(int(shown))) for method, shown in SHOWN_BY_METHOD.items()]
    return Case(*by_word, *by_method, default=Value(int(Shown.LOSS)))


def read_instruments():
    rows = list(Instrument.objects.order_by("pk"))
    none = [np.nan]
    return Instruments(
        key=np.array([0, *(row.pk for row in rows)]),
        uncertainty_db=np.array(none + [row.uncertainty_db for row in rows], float),
        made_for_reflection=np.array([False, *(row.is_made_for_reflection for row in rows)]),
        set_limit_db=np.array(none + [row.set_limit_db for row in rows], float),
    )


def read_cable_faults(on, segment_ids=None):
    """Open faults of a cable or connector: (segment, reported_on, place), of the segment that was there that day.

    A fault goes with its segment: fitted elsewhere it is still damaged, and what took its place is not. The oldest
    comes first, of one day the lowest number.
    """
    fitted_then = Q(
        mat__fittings__position=F("position"),
        mat__fittings__fitted_on__lte=F("reported_on"),
    ) & (Q(mat__fittings__removed_on=None) | Q(mat__fittings__removed_on__gt=F("reported_on")))
    if segment_ids is not None:
        fitted_then &= Q(mat__fittings__segment__in=segment_ids)
    # one filter() call: all conditions on the fitting must hold of one and the same fitting
    faults = Fault.objects.open_on(on).of_cables().filter(fitted_then)
    in_order = faults.order_by("reported_on", "number", "pk")
    return list(in_order.values_list("mat__fittings__segment", "reported_on", "place"))
