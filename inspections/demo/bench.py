"""Bench days of the demo pool and what the instruments show on them."""

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from inspections.choices import MeasurementReason, Taken
from inspections.models import Measurement

from . import names, scenarios
from .left_longer import LeftLonger

LAST_ROUND_DAYS = 6
BETWEEN_ROUNDS_DAYS = 91
# rounds counted back from the last one that never came about: nobody measured for a year
MISSED_ROUNDS = {"Quay Street": range(20, 24), "Upper Mill": range(11, 15)}
LATELY = 6
LIMIT_DB = 3.0
NOISE_DB = 0.04


@dataclass
class Bench:
    """Every bench day has its own set-up, which shifts all readings of that day by 0.05 to 0.2 dB."""

    random: np.random.Generator
    on: date
    begins_on: date
    instruments: dict
    longer: LeftLonger
    readings: list = field(default_factory=list)
    _rounds: dict = field(default_factory=dict)
    _days_of: dict = field(default_factory=dict)
    _shift_db: dict = field(default_factory=dict)

    def __post_init__(self):
        count = (self.on - self.begins_on).days // BETWEEN_ROUNDS_DAYS
        for depot in self.instruments:
            late = [0, *self.random.integers(-8, 9, count - 1).tolist()]
            days = [LAST_ROUND_DAYS + BETWEEN_ROUNDS_DAYS * number + late[number] for number in range(count)]
            self._rounds[depot] = [self.on - timedelta(days=back) for back in days]

    def shifts_of(self, depot):
        """{day: shift in dB} of the bench days on which something was read there."""
        return {day: shift_db for (at, day), shift_db in self._shift_db.items() if at == depot}

    def is_at(self, depot):
        return depot in self.instruments

    def days_of(self, mat):
        """The days on which this mat lay on the bench, in order."""
        if mat.number not in self._days_of:
            self._days_of[mat.number] = sorted(self._visits(mat)) if self.is_at(mat.depot.name) else []
        return self._days_of[mat.number]

    def _visits(self, mat):
        turn = int(mat.number[2:])
        for number, day in enumerate(self._rounds[mat.depot.name]):
            missed = number in MISSED_ROUNDS[mat.depot.name] or self.random.random() < (0.03 if number < 4 else 0.15)
            if mat.number == scenarios.NOT_MEASURED_LATELY:
                missed = number < LATELY
            asked_for = number == 0 and mat.number in (scenarios.NO_SIGNAL, scenarios.DOUBTFUL)
            every = 2 if self.longer.holds(mat, day) else 4
            if asked_for or ((turn + number) % every == 0 and not missed):
                yield day

    def read_new(self, cable, depot, day):
        self._add(cable, depot, day, cable.wear.as_new_db, MeasurementReason.NEW, taken=Taken.AT_FITTING)

    def read(self, cable, depot, day, *, drawn=False):
        """A reading as found, at times with repeats or after cleaning; returns the last loss, at 900 MHz and 20 °C."""
        dirt_db = self.random.exponential(0.12) if self.random.random() < 0.15 else 0.0
        true_db = cable.wear.loss_db(day.toordinal())
        # yearly samples are drawn afterwards
        reason = MeasurementReason.SUSPECT if cable.suspect else MeasurementReason.ROUTINE
        reason = MeasurementReason.SAMPLE if drawn else reason
        shown_db = self._add(cable, depot, day, true_db + dirt_db, reason)
        again = 2 if self.random.random() < 0.03 or abs(shown_db - LIMIT_DB) < 0.1 else 1
        for repeat in range(2, again + 1):
            self._add(cable, depot, day, true_db + dirt_db, reason, repeat=repeat)
        if dirt_db > 0.15 or shown_db > LIMIT_DB:
            shown_db = self._add(cable, depot, day, true_db, reason, repeat=again + 1, taken=Taken.AFTER_CLEANING)
        return shown_db

    def _add(self, cable, depot, day, true_db, reason, repeat=1, taken=Taken.AS_FOUND):
        instrument, frequency_mhz = self.instruments[depot]
        temperature_c = self._temperature(day)
        shown_db = max(0.02, true_db + self._shift(depot, day) + self.random.normal(0.0, NOISE_DB))
        raw_db = shown_db * ((frequency_mhz or 900.0) / 900.0) ** 0.5 * (1 + 0.002 * (temperature_c - 20))
        self.readings.append(
            Measurement(
                segment=cable.segment,
                measured_on=day,
                repeat=repeat,
                loss_db=round(float(raw_db), 2),
                frequency_mhz=frequency_mhz,
                temperature_c=temperature_c,
                instrument=instrument,
                measured_by=names.MEASURED_BY[(day.toordinal() // 7) % len(names.MEASURED_BY)],
                taken=taken,
                reason=reason,
            )
        )
        return shown_db

    def _temperature(self, day):
        season = np.cos(2 * np.pi * (day.timetuple().tm_yday - 200) / 365.25)
        return float(round(2 * (16 + 6 * season + self.random.normal(0, 1))) / 2)

    def _shift(self, depot, day):
        if (depot, day) not in self._shift_db:
            sign = 1 if self.random.random() < 0.5 else -1
            self._shift_db[depot, day] = sign * self.random.uniform(0.05, 0.2)
        return self._shift_db[depot, day]
