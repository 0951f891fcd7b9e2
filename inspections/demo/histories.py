"""What happens to the cables of each mat: fitted, measured, damaged, moved, changed.

The keeper of this pool changes a cable shortly before it is three years old, after a reading over the limit, and when
it was damaged; in some mats by lot the cables stayed in for longer (`left_longer`). Four times a year a quarter of the
mats of each depot with a bench is measured.
"""

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from fleet.choices import FaultEnd, FaultPlace, FittedBasis
from fleet.models import CableSegment, Fault, Fitting
from inspections.numeric.decibels import typical_loss_db

from . import names, scenarios
from .bench import LIMIT_DB, Bench
from .wear import Wear, new_cable, take_out

REFERENCE_MHZ = 900.0
DAMAGE_PER_OUTING = 0.0012
MOVED_SHARE = 0.03
FINDING_A_SPARE_DAYS = (5, 21)
MADE_ROOM = "made room for a moved cable"
TORN_OFF = "end plug torn off"


@dataclass(eq=False)
class Cable:
    """A segment with its true wear, which no reading shows exactly."""

    segment: CableSegment
    wear: Wear
    suspect: bool = False


@dataclass
class Leaving:
    """When a cable leaves its position, and why; the earliest of several is what happens."""

    day: date
    reason: str
    fault_on: date | None = None
    mate: object = None


@dataclass
class Histories:
    """All rows of the cables of the pool, mat by mat."""

    random: np.random.Generator
    on: date
    bench: Bench
    outings: dict
    fresh_until: date
    segments: list = field(default_factory=list)
    fittings: list = field(default_factory=list)
    faults: list = field(default_factory=list)
    _lasting: dict = field(default_factory=dict)
    _arriving: dict = field(default_factory=dict)

    def live(self, mat, cable_types, mates):
        """The whole past of a mat; `mates` are later mats of its design and depot, to which a cable may move."""
        build = next(build for build in names.BUILDS if build.code == mat.design.code)
        for position, length_m in enumerate(build.lengths_m, 1):
            self._live_in(mat, position, length_m, cable_types[build.cable_type], mates)

    def _live_in(self, mat, position, length_m, cable_type, mates):
        day, cable = mat.acquired_on, None
        while day <= self.on and (mat.withdrawn_on is None or day < mat.withdrawn_on):
            cable = cable or self._new(mat, length_m, cable_type, day)
            take_out(self.random, cable.wear, length_m, self.outings.get(mat.number, ()), day.toordinal())
            leaving = self._fit(mat, position, cable, day, mates)
            if leaving is None or leaving.reason == TORN_OFF:
                return
            day, cable = leaving.day, self._arriving.pop((mat.number, position, leaving.day), None)

    def _new(self, mat, length_m, cable_type, day):
        db_per_m = float(typical_loss_db(1.0, cable_type.db_per_m_400mhz, cable_type.db_per_m_1000mhz, REFERENCE_MHZ))
        segment = CableSegment(cable_type=cable_type, length_m=length_m, lot=f"{day.year}-{(day.month + 2) // 3}")
        if mat.number == scenarios.SECOND_HAND:
            segment.lot, segment.events_before = "", scenarios.EVENTS_BEFORE
        self.segments.append(segment)
        return Cable(segment, new_cable(self.random, length_m, db_per_m, day.toordinal()))

    def _fit(self, mat, position, cable, day, mates):
        """One fitting with its readings; how it ends, or None while it lasts."""
        fitting = Fitting(segment=cable.segment, mat=mat, position=position, fitted_on=day)
        fitting.fitted_basis = self._basis(mat, day)
        self.fittings.append(fitting)
        self._measure_new(mat, cable, day)
        leaving = min(self._ways_to_leave(mat, position, cable, day, mates), key=lambda way: way.day)
        leaving = self._measure(mat, cable, day, leaving)
        if leaving.fault_on:
            self._report(mat, position, leaving)
        if leaving.day > self.on:
            return None
        fitting.removed_on, fitting.removal_reason = leaving.day, leaving.reason
        if leaving.mate is not None:
            self._arriving[leaving.mate.number, position, leaving.day] = cable
        elif leaving.reason != MADE_ROOM:
            cable.segment.withdrawn_on, cable.segment.withdrawal_reason = leaving.day, leaving.reason
        return leaving

    def _basis(self, mat, day):
        if day != mat.acquired_on:
            return FittedBasis.KNOWN
        if mat.number == scenarios.SECOND_HAND:
            return FittedBasis.NOT_LATER_THAN
        return FittedBasis.ABOUT if mat.number in scenarios.ABOUT else FittedBasis.KNOWN

    def _measure_new(self, mat, cable, day):
        """Most cables are measured on the day they are fitted; of some the seller's value is known."""
        chance, new = self.random.random(), cable.wear.begun == day.toordinal()
        if not new or mat.number == scenarios.SECOND_HAND:
            return
        if self.bench.is_at(mat.depot.name) and chance < 0.8:
            self.bench.read_new(cable, mat.depot.name, day)
        elif chance > 0.7:
            cable.segment.as_new_loss_db = round(float(cable.wear.as_new_db + self.random.normal(0, 0.04)), 2)

    def _ways_to_leave(self, mat, position, cable, day, mates):
        yield Leaving(*self._last_day(mat, cable, day))
        if mat.withdrawn_on:
            yield Leaving(mat.withdrawn_on, "mat withdrawn")
        if (mat.number, position) == scenarios.EMPTY_POSITION and day < self.on - timedelta(days=scenarios.EMPTY_DAYS):
            yield Leaving(self.on - timedelta(days=scenarios.EMPTY_DAYS), TORN_OFF)
        coming = [
            when for number, place, when in self._arriving if (number, place) == (mat.number, position) and when > day
        ]
        if coming:
            yield Leaving(min(coming), MADE_ROOM)
        if cable.wear.begun == day.toordinal() and mat not in self.bench.longer.mats:
            yield from self._moved(position, day, mates)
        yield from self._damaged(mat, day)

    def _last_day(self, mat, cable, day):
        """Cables fitted into a mat on one day are changed on one day, shortly before they are three years old."""
        if mat.number in scenarios.FIRST_CABLES_STAY and day == mat.acquired_on:
            return date.max, "age"
        begun = date.fromordinal(cable.wear.begun)
        already_used = day == mat.acquired_on and day < self.fresh_until
        years = self.random.uniform(0.5, 2.9) if already_used else self.random.uniform(2.75, 2.96)
        usual = begun + self._lasting.setdefault((mat.number, day), timedelta(days=int(365.25 * years)))
        return self.bench.longer.last_day(mat, begun, usual)

    def _moved(self, position, day, mates):
        move_on = day + timedelta(days=int(self.random.integers(150, 600)))
        ready = [mate for mate in mates if mate.acquired_on < move_on and scenarios.takes_moved_cables(mate.number)]
        if self.random.random() < MOVED_SHARE and ready and move_on <= self.on:
            mate = ready[0]
            if not any(number == mate.number and place == position for number, place, _ in self._arriving):
                yield Leaving(move_on, f"moved to {mate.number}", mate=mate)

    def _damaged(self, mat, day):
        seen = [date.fromordinal(when) for when, _ in self.outings.get(mat.number, ()) if when > day.toordinal()]
        hit = np.flatnonzero(self.random.random(len(seen)) < DAMAGE_PER_OUTING)
        if len(hit):
            found_on = seen[hit[0]]
            yield Leaving(found_on + self._finding_a_spare(), "damage", fault_on=found_on)

    def _finding_a_spare(self):
        return timedelta(days=int(self.random.integers(*FINDING_A_SPARE_DAYS)))

    def _measure(self, mat, cable, day, leaving):
        """Readings up to the end of the fitting; one over the limit brings the end nearer."""
        for bench_day in self.bench.days_of(mat):
            if day < bench_day < min(leaving.day, self.on + timedelta(days=1)):
                drawn, at = self.bench.longer.holds(mat, bench_day), mat.depot.name
                loss_db = self.bench.read(cable, at, bench_day, drawn=drawn)
                cable.suspect = loss_db > LIMIT_DB - 0.35
                if loss_db >= LIMIT_DB:
                    change_on = bench_day + self._finding_a_spare()
                    return min(leaving, Leaving(change_on, "loss over the limit"), key=lambda way: way.day)
        return leaving

    def _report(self, mat, position, leaving):
        ended = leaving.day <= self.on
        place = self.random.choice([FaultPlace.CABLE, FaultPlace.CONNECTOR])
        self.faults.append(
            Fault(
                mat=mat,
                position=position,
                reported_on=leaving.fault_on,
                place=str(place),
                what=str(self.random.choice(names.FAULTS_OF_CABLES)),
                ended_on=leaving.day if ended else None,
                end_reason=FaultEnd.CHANGE if ended else "",
            )
        )
