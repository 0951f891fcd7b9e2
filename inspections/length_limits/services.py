"""Limits by length: of each position of each design the age, or the number of events, up to which its cable stays
within the accepted risk; and what the limit in force does in its place."""

from dataclasses import dataclass

import numpy as np

from fleet.models import DesignPosition, MatDesign

from ..assessment.pool_fits import clock
from ..choices import LIMIT_NAME
from ..numeric.calendar import whole_months
from ..numeric.lives.agreement import Agreement
from ..numeric.lives.limits_by_length import KindLimits, limits_of_kinds
from ..numeric.lives.modelled import Kinds
from ..numeric.pool_model import PoolModel
from ..numeric.words import Clock
from ..pool_life.cable_services import Cables, checks_of, read_cables
from ..pool_life.life_services import cable_lives
from ..pool_life.trend_services import agrees, model_of_day
from .watched_services import Watched

# of values rounded to what the policy can hold: what parts them is more
TINY = 1e-9


@dataclass(frozen=True)
class PositionLimit:
    """`age` on `wear_clock`, that of the model: inf not within its horizon, nan where wear falls; `low`, `high`: its
    90 % interval. `today`: the limit in force, 0 none; the rest says what that one does, nan where there is none.

    What was observed: `read` cables of about its length (a quarter of a metre) have a life; no cable of its length or
    longer was seen beyond `watched_until`; `seen` of those were seen at `age` or later, or were over before.
    """

    design: MatDesign
    position: int
    length_m: float
    accepted_risk: float
    wear_clock: str
    today: float
    age: float
    low: float
    high: float
    today_share_over: float
    today_low: float
    today_high: float
    today_life_left: float
    read: int
    seen: int
    watched_until: float

    @property
    def has_limit(self):
        return bool(np.isfinite(self.age))

    @property
    def comes_first(self):
        """The risk is reached before today's limit."""
        return self.has_limit and self.today > 0 and self._rounded(self.age) < self.today - TINY

    @property
    def may_stay(self):
        """Today's limit comes before the risk is reached, or there is no end to it in sight."""
        return 0 < self.today < self._rounded(self.age) - TINY

    @property
    def is_beyond(self):
        """The risk is reached later than any such cable was watched."""
        return self.age > self.watched_until

    def as_policy(self, at_most=np.inf):
        """The value that the policy would take, rounded down: years of whole months, or events; None where there is
        none, or where the risk is reached sooner than a limit can say."""
        value = self._rounded(min(self.age, at_most)) if not np.isnan(self.age) else np.inf
        return value if 0 < value < np.inf else None

    def _rounded(self, value):
        if not np.isfinite(value):
            return float(value)
        return float(whole_months(value) / 12 if self.wear_clock == Clock.YEARS else np.floor(value))


@dataclass(frozen=True)
class PoolLimits:
    """As of a day, on the `clock` of `model` (None: no fit yet). `watched_until_years`: no check saw a cable at a
    greater age, `watched_until` the same on the clock. `agreement`: of the model with the lives that were observed;
    None without a fit. `risk`: that the pool accepts."""

    model: PoolModel | None
    clock: str
    rows: tuple[PositionLimit, ...]
    watched_until: float
    watched_until_years: float
    agreement: Agreement | None
    risk: float

    @property
    def has_fit(self):
        return self.model is not None and self.model.points is not None

    def proposal(self, row, further=0.0):
        """What the policy might take for a PositionLimit: no more than was watched of such cables, or so much
        `further`, but for what is the limit now. Beyond what was watched the early end of the interval stands, and
        where no limit is in force none is made of what nobody saw. None: leave it as it is."""
        if not row.today and row.is_beyond:
            return None
        beyond = min(row.watched_until + further, max(row.low, row.watched_until))
        return row.as_policy(at_most=max(beyond, row.today))


@dataclass(frozen=True)
class LimitsOfDay:
    """Cables of a day, and PoolLimits by the keeper's clock: for all that is asked of both."""

    cables: Cables
    own: PoolLimits


def limits_of_day(on, today):
    """LimitsOfDay as of `on`; `today` is the day of the clock on the wall."""
    cables = read_cables(on)
    return LimitsOfDay(cables, pool_limits(on, today, cables=cables))


def pool_limits(on, today, wear_clock=None, cables=None):
    """PoolLimits as of `on` by the keeper's clock, or by `wear_clock`; `today` is the day of the clock on the wall.

    By events only cables whose events are known have a part. Stores nothing but what every page assesses first.
    `cables`: those of `on`, where they were read already.
    """
    cables = read_cables(on) if cables is None else cables
    checks, policy = checks_of(cables), cables.state.policy
    asked = wear_clock or clock(policy)
    model = model_of_day(cables.state, on, today, asked, cables.is_counted(asked))
    lives = {each: cable_lives(cables, checks, each) for each in {asked, Clock.YEARS}}
    has_fit = model is not None and model.points is not None
    watched = Watched(cables.length_m[lives[asked].row], lives[asked].lives)
    return PoolLimits(
        model=model,
        clock=asked,
        rows=tuple(_rows(model, policy, asked, on, watched)) if has_fit else (),
        watched_until=lives[asked].lives.watched_until,
        watched_until_years=lives[Clock.YEARS].lives.watched_until,
        agreement=agrees(model, cables, lives[asked].lives, lives[asked].row),
        risk=policy.value("accepted_risk"),
    )


def _rows(model, policy, wear_clock, on, watched):
    """PositionLimit of every position of the designs in use, by design and position; a position is computed once
    however many are alike."""
    places = DesignPosition.objects.filter(design__in=MatDesign.objects.in_use(on)).select_related("design")
    places = list(places.order_by("design__code", "number"))
    if not places:
        return
    asked = np.array([_asked(policy, wear_clock, place) for place in places])
    different, row = np.unique(asked, axis=0, return_inverse=True)
    length_m, limit_db, risk, today = different.T
    found = limits_of_kinds(model.points, Kinds.of(length_m, limit_db, risk), today, by_years=wear_clock == Clock.YEARS)
    answers = [_answers(found, kind) | watched.of(length_m[kind], found.age[kind]) for kind in range(len(different))]
    for place, (_, _, accepted, limit), kind in zip(places, asked.tolist(), row.ravel().tolist(), strict=True):
        yield PositionLimit(place.design, place.number, place.length_m, accepted, wear_clock, limit, **answers[kind])


def _answers(found, kind):
    return {name: float(getattr(found, name)[kind]) for name in KindLimits.__dataclass_fields__}


def _asked(policy, wear_clock, place):
    """(length, loss limit, accepted risk, limit in force) of a position."""
    design = place.design_id
    today = policy.value(LIMIT_NAME[wear_clock], design_id=design, position=place.number)
    if wear_clock == Clock.YEARS:
        # as the due list counts it: whole months
        today = float(whole_months(today)) / 12
    of_design = (policy.value(name, design_id=design) for name in ("loss_limit_db", "accepted_risk"))
    return (place.length_m, *of_design, today)
