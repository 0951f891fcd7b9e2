"""Loss against length: every cable in service, and the mean of each length at the ages that the limits name."""

from dataclasses import dataclass

import numpy as np
from django.db.models import Max, Min, OuterRef, Subquery

from fleet.models import Fitting
from fleet.months import MONTHS_A_YEAR
from fleet.parsing.counts import counted
from fleet.parsing.durations import months_in_words

from ..assessment.columns import columns, day, number, whole
from ..choices import SETTINGS
from ..models import Assessment
from ..numeric.calendar import DAYS_A_YEAR
from ..numeric.reading_blocks import settled
from ..numeric.words import Clock, TrendFrom

# lines of more limits than these would hide each other: then the lowest and the highest
MOST_LIMITS = 2


@dataclass(frozen=True)
class CablePoints:
    """Arrays, one row a cable: its length, its own loss at its last reading, whether a reading of it is out of the fit.

    Of cables without a reading that counts (`read` False) the loss is that of similar ones today.
    """

    length_m: np.ndarray
    loss_db: np.ndarray
    read: np.ndarray
    left_out: np.ndarray


@dataclass(frozen=True)
class MeanLine:
    """The mean loss of cables of `length_m` (arrays) at one age; `name`: that age."""

    name: str
    length_m: np.ndarray
    loss_db: np.ndarray


@dataclass(frozen=True)
class LengthRow:
    """One length in service: how many cables, how many of them read, mean loss by age as (its name, dB), rise a unit,
    and the lowest and highest own loss among those read (None: none is)."""

    length_m: float
    cables: int
    read: int
    means: tuple[tuple[str, float], ...]
    rate_db: float
    lowest_db: float | None
    highest_db: float | None


def cable_points(fit, clock, left_out, on):
    """CablePoints of all cables in service with a trend; `left_out`: keys of those with a reading out of the fit."""
    assessed = Assessment.objects.filter(trend_level_db__isnull=False)
    own = columns(
        assessed.filter(trend_from=TrendFrom.OWN),
        segment=whole("segment_id"),
        length_m=number("segment__length_m"),
        level_db=number("trend_level_db"),
    )
    similar_m, today_db = _similar_today(assessed.filter(trend_from=TrendFrom.SIMILAR), fit, clock, on)
    return CablePoints(
        length_m=np.concatenate([own["length_m"], similar_m]),
        loss_db=np.concatenate([own["level_db"], today_db]),
        read=np.arange(len(own["segment"]) + len(similar_m)) < len(own["segment"]),
        left_out=np.concatenate([np.isin(own["segment"], left_out), np.zeros(len(similar_m), bool)]),
    )


def _similar_today(assessed, fit, clock, on):
    """(lengths, losses today) of cables without a reading of their own: their level lies on the day of fitting."""
    first = Fitting.objects.filter(segment=OuterRef("segment")).order_by("fitted_on").values("fitted_on")[:1]
    found = columns(
        assessed.annotate(first_on=Subquery(first)),
        length_m=number("segment__length_m"),
        level_db=number("trend_level_db"),
        rate_db=number("trend_rate_db"),
        first_on=day("first_on"),
        events=whole("event_count"),
    )
    years = np.maximum((np.datetime64(on, "D") - found["first_on"]).astype(float) / DAYS_A_YEAR, 0)
    count = years if clock == Clock.YEARS else found["events"]
    settling_db = fit.settling_db * settled(years) if fit else 0.0
    return found["length_m"], found["level_db"] + found["rate_db"] * count + settling_db


def mean_lines(fit, clock, policy):
    """MeanLines of the pool when fitted and at the ages at which limits stand, from the shortest to the longest."""
    ends_m = _ends_m()
    return [MeanLine(name, ends_m, mean_db(fit, ends_m, age, clock)) for name, age in ages_shown(policy, clock)]


def _ends_m():
    lengths = Assessment.objects.aggregate(low=Min("segment__length_m"), high=Max("segment__length_m"))
    return np.array([lengths["low"] or 0.0, lengths["high"] or 0.0])


def ages_shown(policy, clock):
    """[(its name, age on the clock)]: when fitted, and the limits of the pool and of its designs, a few of them."""
    name, unit = ("event_limit", "event") if clock == Clock.EVENTS else ("age_limit_years", "year")
    limits = sorted(policy.all_values(name) - {0}) or [SETTINGS[name].default]
    chosen = limits if len(limits) <= MOST_LIMITS else [limits[0], limits[-1]]
    return [("when fitted", 0.0), *((f"after {_in_words(limit, unit)}", float(limit)) for limit in chosen)]


def _in_words(limit, unit):
    return months_in_words(round(MONTHS_A_YEAR * limit)) if unit == "year" else counted(limit, unit)


def mean_db(fit, length_m, age, clock):
    """Mean loss of such lengths at an age on the clock; by events what settles has settled, for no age is known."""
    (a0, a1), (b0, b1) = fit.intercept_db, fit.rate_db
    share = float(age > 0) if clock == Clock.EVENTS else settled(age)
    return a0 + a1 * length_m + (b0 + b1 * length_m) * age + fit.settling_db * share


def length_rows(fit, clock, cables, policy):
    """LengthRows of every length in service, the shortest first."""
    ages = ages_shown(policy, clock)
    b0, b1 = fit.rate_db
    return tuple(
        LengthRow(
            length_m=length_m,
            cables=int(here.sum()),
            read=int((here & cables.read).sum()),
            means=tuple((name, float(mean_db(fit, length_m, age, clock))) for name, age in ages),
            rate_db=float(b0 + b1 * length_m),
            lowest_db=_end(np.min, cables.loss_db[here & cables.read]),
            highest_db=_end(np.max, cables.loss_db[here & cables.read]),
        )
        for length_m in np.unique(cables.length_m).tolist()
        for here in [cables.length_m == length_m]
    )


def _end(of, losses_db):
    return float(of(losses_db)) if len(losses_db) else None
