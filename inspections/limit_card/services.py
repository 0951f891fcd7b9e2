"""A card for those without a bench: up to which age cables of each length may stay in, and what that rests on.

It names nothing of any customer: no mat, owner, event, depot or design.
"""

from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

import numpy as np

from ..assessment.services import ensure_assessed
from ..numeric.calendar import whole_months
from ..numeric.lives.agreement import Agreement
from ..numeric.lives.limits_by_length import limits_of_kinds
from ..numeric.lives.modelled import Kinds, fresh_lives
from ..numeric.lives.records import Lives
from ..numeric.pool_model import PoolModel
from ..numeric.words import Clock
from ..pool_life.cable_services import checks_of, read_cables
from ..pool_life.life_services import cable_lives
from ..pool_life.trend_services import agrees, model_of_day
from .clock_services import ClockFound, Use, clock_found, use_of

# so many rows fit on a page beside what stands below them
MOST_ROWS = 10
# a limit goes no further than so many cables of that length or longer were watched
FEWEST_WATCHED = 10
# events a year of a mat that goes weekly, fortnightly, monthly
RATES = {"weekly": 52, "fortnightly": 26, "monthly": 12}
# what keeps a length that is whole hundredths from the next one
ROUNDING = 1e-6


@dataclass(frozen=True)
class Limit:
    """Years of whole months, or whole events; nan: none can be told. `is_least`: it stands where watching ended; by
    the trend it would lie later."""

    value: float
    is_least: bool


@dataclass(frozen=True)
class CardRow:
    """Cables up to `length_m`. `limit` and its 90 % interval `low`, `high` by the card's clock; `by_use`: years at each
    of the card's uses, None where no mat here went so seldom. Of `read` cables above the length of the row
    before, `beyond` were watched beyond the limit. `as_new_db`: of the longest, by the trend."""

    length_m: float
    limit: Limit
    low: float
    high: float
    by_use: tuple[Limit | None, ...]
    read: int
    beyond: int
    as_new_db: float


@dataclass(frozen=True)
class LimitCard:
    """`why_none`: no card can be made, "few": too little was read or watched, "disagrees": the trend does not agree
    with what checks saw. `uses`: names of RATES, or "usual", that rows are split by; () where wear counts years.
    `ends`: how far FEWEST_WATCHED cables were watched, in years; no limit lies beyond. `first_on`, `last_on`: of the
    readings."""

    on: date
    why_none: str
    rows: tuple[CardRow, ...]
    uses: tuple[str, ...]
    found: ClockFound
    use: Use
    model: PoolModel | None
    agreement: Agreement | None
    lives: Lives
    ends: float
    limit_db: float
    risk: float
    reference_mhz: float
    first_on: date | None
    last_on: date | None

    @property
    def clock(self):
        return self.found.clock

    @property
    def goes_no_further(self):
        """A limit stands where watching ended."""
        return any(each.is_least for row in self.rows for each in (row.limit, *row.by_use) if each)


def limit_card(on):
    """LimitCard as of `on`, which is today."""
    ensure_assessed(on)
    cables = read_cables(on)
    checks, policy = checks_of(cables), cables.state.policy
    found, use = clock_found(cables, on), use_of(cables)
    model = model_of_day(cables.state, on, on, found.clock, cables.is_counted(found.clock))
    lives, years = (cable_lives(cables, checks, each) for each in (found.clock, Clock.YEARS))
    counted, in_years = (_Read(each.lives, cables.length_m[each.row]) for each in (lives, years))
    days = cables.state.by_day.day
    card = LimitCard(
        on=on,
        why_none="",
        rows=(),
        uses=_uses(found, use),
        found=found,
        use=use,
        model=model,
        agreement=agrees(model, cables, lives.lives, lives.row),
        lives=counted.lives,
        ends=watched_by_enough(in_years.lives),
        limit_db=policy.value("loss_limit_db"),
        risk=policy.value("accepted_risk"),
        reference_mhz=policy.value("reference_mhz"),
        first_on=days.min().item() if len(days) else None,
        last_on=days.max().item() if len(days) else None,
    )
    if why := _why_none(card):
        return replace(card, why_none=why)
    return replace(card, rows=tuple(_together(_rows(card, counted, in_years))))


@dataclass(frozen=True)
class _Read:
    """Lives by a clock, and the lengths of their cables."""

    lives: Lives
    length_m: np.ndarray

    def ends(self, upper):
        """How far FEWEST_WATCHED cables of each of these lengths or longer were watched; a length counts from above the
        one before."""
        above = np.append(0.0, upper[:-1] + ROUNDING)
        return np.array([watched_by_enough(self.lives.take(self.length_m > least)) for least in above])


def _why_none(card):
    if card.model is None or card.model.points is None or not min(card.ends, watched_by_enough(card.lives)):
        return "few"
    return "disagrees" if card.agreement.disagrees else ""


def _uses(found, use):
    """By years each row has one age. By events it has one for each use, where that is told apart; else for the usual
    one of this pool."""
    if found.clock == Clock.YEARS or not use.is_known:
        return ()
    return tuple(RATES) if found.is_told else ("usual",)


def last_seen(lives):
    """Age at which each was seen for the last time, within or over."""
    return np.where(lives.is_over, lives.high, lives.low)


def watched_by_enough(lives):
    """The age to which FEWEST_WATCHED lives were watched, those included that were over before; 0 of fewer."""
    last = np.sort(np.where(lives.is_over, np.inf, lives.low))
    return float(min(last[-FEWEST_WATCHED], lives.watched_until)) if len(last) >= FEWEST_WATCHED else 0.0


def upper_lengths(length_m):
    """Upper ends of the rows, up to the length that FEWEST_WATCHED cables have or exceed: the lengths themselves, to
    hundredths upwards; of many the longest in each of MOST_ROWS steps."""
    different = np.unique(np.ceil(100 * length_m - ROUNDING) / 100)
    as_long = len(length_m) - np.searchsorted(np.sort(length_m), different - 0.01 + ROUNDING)
    different = different[as_long >= FEWEST_WATCHED]
    if len(different) <= MOST_ROWS:
        return different
    step = np.linspace(different[0], different[-1], MOST_ROWS + 1)[1:]
    which = np.searchsorted(step, different - ROUNDING)
    return np.array([different[which == each].max() for each in np.unique(which)])


def _rows(card, counted, in_years):
    """CardRow of each length; a longer cable is never given more than a shorter one."""
    upper, by_years = upper_lengths(counted.length_m), card.clock == Clock.YEARS
    kinds = Kinds.of(upper, card.limit_db, card.risk)
    found = limits_of_kinds(card.model.points, kinds, 0.0, by_years=by_years)
    age, low, high = (np.minimum.accumulate(column) for column in (found.age, found.low, found.high))
    fresh = fresh_lives(card.model.points, kinds, by_years=by_years)
    as_new, of_row = fresh.weight @ fresh.states.level, np.searchsorted(upper, counted.length_m - ROUNDING)
    last, watched, years = last_seen(card.lives), counted.ends(upper), in_years.ends(upper)
    for row, length in enumerate(upper.tolist()):
        limit, here = rounded(age[row], watched[row], by_years), of_row == row
        yield CardRow(
            length_m=length,
            limit=limit,
            low=float(low[row]),
            high=float(high[row]),
            by_use=tuple(_at_use(card.use, name, min(age[row], watched[row]), years[row], limit) for name in card.uses),
            read=int(here.sum()),
            beyond=int((here & (last > limit.value)).sum()),
            as_new_db=float(as_new[row]),
        )


def _together(rows):
    """Rows that are given the same become one, of the longest."""
    for _, alike in groupby(rows, key=lambda row: (row.limit, row.by_use)):
        alike = list(alike)
        yield replace(alike[-1], read=sum(row.read for row in alike), beyond=sum(row.beyond for row in alike))


def rounded(age, watched, by_years):
    """Limit of an age by a clock, rounded down; no further than was watched."""
    if np.isnan(age):
        return Limit(np.nan, False)
    value = min(age, watched)
    return Limit(float(whole_months(value) / 12 if by_years else np.floor(value)), bool(age > watched))


def _at_use(use, name, events, watched, limit):
    """Limit in years of mats that go so often; None where cables of this pool went more often."""
    rate = RATES.get(name, use.usual)
    if not use.holds(Clock.EVENTS, rate):
        return None
    found = rounded(events / rate, watched, by_years=True)
    return Limit(found.value, found.is_least or limit.is_least)
