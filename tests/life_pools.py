"""Pools whose cables last as given lives do: bulk rows of mats, fittings and the readings at both ends of each life."""

from datetime import timedelta
from itertools import count

import numpy as np
from factories import make_cable_type, make_design

from fleet.models import CableSegment, Fitting, Mat
from inspections.models import Measurement

DAYS_A_YEAR = 365.25
# so far from the limit of 3 dB that no doubt is left
WITHIN_DB, OVER_DB = 1.2, 4.5
_number = count(1)


def make_pool_of_lives(lives, on, *, length_m=1.6, design=None, depot=None, years_a_unit=1.0, **values):
    """A cable for each of Lives (no late entries), in mats as they live alike; its last age seen is that of today.

    Read within at `low` and over at `high`, to the day; `values` go into each reading. Returns the cables by row.
    """
    design = design or make_design(lengths_m=(length_m,) * 4)
    cable_type, pool = make_cable_type(), next(_number)
    mats = {key: Mat(number=f"L{pool}-{key}", design=design, depot=depot) for key in np.unique(lives.cluster).tolist()}
    Mat.objects.bulk_create(mats.values())
    cables = CableSegment.objects.bulk_create(
        CableSegment(serial=f"L{pool}-{row:05}", cable_type=cable_type, length_m=length_m) for row in range(len(lives))
    )
    seen = np.where(lives.is_over, lives.high, lives.low) * years_a_unit
    first = [on - timedelta(_days(last)) for last in seen]
    Fitting.objects.bulk_create(_fittings(cables, mats, lives, first))
    Measurement.objects.bulk_create(_readings(cables, lives, first, years_a_unit, values))
    return cables


def _fittings(cables, mats, lives, first):
    """Of one mat each in a position of its own; whose place the design does not know all the same."""
    placed = {}
    for cable, key, day in zip(cables, lives.cluster.tolist(), first, strict=True):
        placed[key] = placed.get(key, 0) + 1
        yield Fitting(segment=cable, mat=mats[key], position=placed[key], fitted_on=day)


def _readings(cables, lives, first, years_a_unit, values):
    for cable, low, high, day in zip(cables, lives.low, lives.high, first, strict=True):
        for age, loss_db in ((low, WITHIN_DB), (high, OVER_DB)):
            if 0 < age < np.inf:
                measured_on = day + timedelta(_days(age * years_a_unit))
                yield Measurement(segment=cable, measured_on=measured_on, loss_db=loss_db, **values)


def _days(years):
    return round(float(years) * DAYS_A_YEAR)
