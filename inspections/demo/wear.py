"""How a cable of the demo pool really wears. Plain numbers, and on purpose not the formula of the loss trend."""

from dataclasses import dataclass, field

import numpy as np

# share of outings that leave water in a cable, by weather
SOAKED = {"dry": 0.0, "damp": 0.02, "rain": 0.05, "snow": 0.08}
CONNECTOR_DB = 0.08
JUMPS_PER_OUTING = 0.0012


@dataclass
class Wear:
    """The loss of one cable at 900 MHz and 20 °C from its first day in a mat on; days are ordinals."""

    as_new_db: float
    db_per_year: float
    db_per_outing: float
    begun: int
    days: np.ndarray = field(default_factory=lambda: np.zeros(0, int))
    steps_db: np.ndarray = field(default_factory=lambda: np.zeros(0))

    def loss_db(self, day):
        outings = self.steps_db[self.days <= day].sum()
        return self.as_new_db + self.db_per_year * (day - self.begun) / 365.25 + outings


def new_cable(random, length_m, db_per_m, begun):
    """A cable of that length: its own as-new loss and its own rates, the long ones worse."""
    temper = random.lognormal(0.0, 0.45)
    return Wear(
        as_new_db=CONNECTOR_DB + length_m * db_per_m * random.normal(1.0, 0.02) + random.normal(0.0, 0.02),
        db_per_year=temper * (0.012 + 0.016 * length_m),
        db_per_outing=temper * (0.0005 + 0.0008 * length_m),
        begun=begun,
    )


def take_out(random, wear, length_m, outings, first_day):
    """Let a cable go to these outings ((day, weather), in order) from `first_day` on; earlier wear stays."""
    before = wear.days < first_day
    outings = [(day, weather) for day, weather in outings if day >= first_day]
    days = np.array([day for day, _ in outings], int)
    soaked = random.random(len(days)) < np.array([SOAKED[weather] for _, weather in outings])
    jumps = random.random(len(days)) < JUMPS_PER_OUTING
    steps = wear.db_per_outing * random.uniform(0.3, 1.7, len(days))
    steps += soaked * random.exponential(0.03 + 0.02 * length_m, len(days))
    steps += jumps * random.uniform(0.1, 0.6, len(days))
    wear.days = np.concatenate([wear.days[before], days])
    wear.steps_db = np.concatenate([wear.steps_db[before], steps])
