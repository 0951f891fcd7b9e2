"""How long fresh cables last as the trend says, by the groups of the page, and whether checks agree with it."""

from dataclasses import dataclass

import numpy as np

from ..numeric.lives.agreement import Agreement
from ..numeric.lives.answers import AgeAt
from .cable_services import limits_db
from .trend_services import ModelledCurve, agrees, kind_curves, model_of_day

HALF = 0.5
# curves go on a little beyond what was watched
CURVE_POINTS, BEYOND = 120, 1.12


@dataclass(frozen=True)
class TrendRow:
    """Fresh cables of a group's lengths as the trend says: `key`, `name` as of Group; `shares`: (share over, low, high)
    by each age of the table; `early`, `half`: AgeAt of the accepted share and of one half, inf beyond the curve."""

    key: str
    name: int | str
    shares: tuple[tuple[float, float, float], ...]
    early: AgeAt
    half: AgeAt

    @property
    def is_whole(self):
        return self.key == ""


@dataclass(frozen=True)
class ByTrend:
    """`rows`: the whole pool and its groups; `curve`: of readings, of the group that was chosen. `agreement`: with the
    lives of the whole pool, `of_chosen`: with those of the group. `segments`, `readings`: of the fit."""

    rows: tuple[TrendRow, ...]
    curve: ModelledCurve
    agreement: Agreement
    of_chosen: Agreement
    segments: int
    readings: int


def by_trend(cables, groups, chosen, question):
    """ByTrend of `groups` [(key, name, mask over Cables)], the whole pool first, `chosen` by key; `question`: its
    clock, ages, risk and lives. None without a fit by that clock, or where the wear of a group falls."""
    on = cables.state.day.item()
    known = cables.is_counted(question.clock)
    model = model_of_day(cables.state, on, on, question.clock, clock_known=known)
    if model is None or model.points is None or not question.ages:
        return None
    found = question.lives
    ages = np.linspace(0, max(question.ages[-1], BEYOND * found.lives.watched_until), CURVE_POINTS)

    kinds = cables.length_m, limits_db(cables), ages
    curves, read = (kind_curves(model, *kinds, as_read=as_read) for as_read in (False, True))
    if curves is None or read is None:
        return None
    mask = next(mask for key, _, mask in groups if key == chosen)
    here = mask[found.row]
    return ByTrend(
        rows=tuple(_row(key, name, curves.of(np.flatnonzero(mask)), question) for key, name, mask in groups),
        curve=read.of(found.row[here] if here.any() else np.flatnonzero(mask)),
        agreement=agrees(model, cables, found.lives, found.row),
        of_chosen=agrees(model, cables, found.lives.take(here), found.row[here]),
        segments=model.segments,
        readings=model.readings,
    )


def _row(key, name, curve, question):
    shares = tuple(curve.at(age) for age in question.ages)
    return TrendRow(key, name, shares, curve.age_at(question.risk), curve.age_at(HALF))
