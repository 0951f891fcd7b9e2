"""What the page of lives shows: the whole pool, its groups, and the same lives otherwise counted."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fleet.models import Depot, MatDesign

from ..axes import round_ticks
from ..choices import LIMIT_NAME
from ..numeric.lives.answers import GroupLife, group_life
from ..numeric.lives.demand import expected_over
from ..numeric.lives.incidence import incidence, resampled_incidence
from ..numeric.lives.records import Lives
from ..numeric.lives.resampling import FEWEST_CLUSTERS, cluster_weights, interval
from ..numeric.words import Clock
from .cable_services import Cables, checks_of, read_cables
from .comparison_services import ByTrend, by_trend
from .life_services import DAMAGED, CableLives, Ends, cable_ends, cable_lives

HALF = 0.5
MOST_AGES = 4
# of the drawing, from new to the end of what was watched
POINTS = 120
# answers kept by what they were made of: pages are looked at again, by one person after another
KEPT = 64


@dataclass(frozen=True)
class Group:
    """`key`: as addresses name it, "" the whole pool; `name`: whole metres, a code of a design, or a depot's name.

    `limit`: today's age or event limit of it, 0 where there is none or several. `damaged`: share of cables whose time
    damage ended by that age, or as long as any was in use, and its interval.
    """

    key: str
    name: int | str
    cables: int
    limit: float
    life: GroupLife
    damaged: tuple[float, float, float]

    @property
    def is_whole(self):
        return self.key == ""


@dataclass(frozen=True)
class Otherwise:
    """The same lives otherwise counted: `how` names it; None, where it changes nothing."""

    how: str
    lives: int
    life: GroupLife


@dataclass(frozen=True)
class PoolLife:
    """`ages`: of the table's columns; `risk`: the share that the policy accepts; `next_over`: how many of the cables in
    service go over in the year to come if none is changed, None where nothing tells.

    `by_trend`: the same as the trend says, None where there is none.
    """

    clock: str
    grouping: str
    whole: Group
    groups: tuple[Group, ...]
    counts: CableLives
    otherwise: tuple[Otherwise, ...]
    ages: tuple[float, ...]
    risk: float
    records_begin: np.datetime64
    next_over: float | None
    in_service: int
    by_trend: ByTrend | None = None

    def group(self, key):
        """The group of that key; the whole pool where there is none."""
        return next((group for group in self.groups if group.key == key), self.whole)


@dataclass(frozen=True)
class _Question:
    """Everything that a group's answer is made of, but for its cables."""

    cables: Cables
    lives: CableLives
    ends: Ends
    clock: str
    ages: tuple[float, ...]
    risk: float


def pool_life(on, clock=Clock.YEARS, grouping="length", chosen=""):
    """PoolLife as of that day; `chosen`: key of the group of which the trend's curve is asked."""
    cables = read_cables(on)
    counted = checks_of(cables)
    lives = cable_lives(cables, counted, clock)
    risk = cables.state.policy.value("accepted_risk")
    ends = cable_ends(cables, checks_of(cables, suspect=True, sure=True), clock)
    limit = cables.state.policy.value(LIMIT_NAME[clock])
    ages = _table_ages(lives.lives.watched_until, limit)
    question = _Question(cables, lives, ends, clock, ages, risk)
    members = [("", "", np.ones(len(cables.segment), bool)), *_members(question, grouping)]
    whole, *groups = (_group(question, *each) for each in members)
    keys = [key for key, *_ in members]
    return PoolLife(
        clock=clock,
        grouping=grouping,
        whole=whole,
        groups=tuple(groups),
        counts=lives,
        otherwise=tuple(_otherwise(question, counted)),
        ages=ages,
        risk=risk,
        records_begin=cables.records_begin,
        next_over=_next_over(question, whole) if clock == Clock.YEARS else None,
        in_service=int(cables.in_service.sum()),
        by_trend=by_trend(cables, members, chosen if chosen in keys else "", question),
    )


def _values(cables, grouping):
    return {"length": cables.length_m.astype(int), "design": cables.design, "depot": cables.depot}[grouping]


def _table_ages(watched_until, limit):
    """A few round ages up to what was watched, and today's limit among them."""
    round_ages = round_ticks(0, watched_until, most=MOST_AGES, least_step=1)[1:]
    return tuple(sorted({float(age) for age in (*round_ages, limit) if age > 0}))


def _members(question, grouping):
    """(key, name, mask over Cables) of each group with a cable that was read, in their order."""
    values, names = _values(question.cables, grouping), _names(grouping)
    read = np.unique(values[question.lives.row])
    for value in sorted(read.tolist(), key=lambda value: str(names.get(value, "")) if names else value):
        yield str(value), names.get(value, value) if names else value, values == value


def _names(grouping):
    if grouping == "design":
        return dict(MatDesign.objects.values_list("pk", "code"))
    return dict(Depot.objects.values_list("pk", "name")) | {0: ""} if grouping == "depot" else {}


def _group(question, key, name, chosen):
    lives, limit = question.lives.of(chosen), _limit(question, chosen)
    ends = question.ends.take(chosen[question.ends.row])
    return Group(
        key=key,
        name=name,
        cables=int(chosen.sum()),
        limit=limit,
        life=answer(lives, question.ages, (question.risk, HALF)),
        damaged=_damaged(ends, question.cables.mat[ends.row], limit or max(question.ages, default=0.0)),
    )


def _limit(question, chosen):
    """The one limit of the cables in service among these; that of the pool where there are none."""
    state, name = question.cables.state, LIMIT_NAME[question.clock]
    here = np.isin(state.segment, question.cables.segment[chosen])
    values = np.unique(state.of_place(name)[here]) if here.any() else np.array([state.policy.value(name)])
    return float(values[0]) if len(values) == 1 else 0.0


def _damaged(ends, mat, age):
    """(share, low, high) of cables whose time damage ended by that age, or as long as any was in use; the interval by
    mats drawn anew."""
    if not len(ends.ended):
        return (0.0, np.nan, np.nan)
    share = float(incidence(ends.ended, ends.cause, DAMAGED, ends.entry).share_by(age))
    if len(np.unique(mat)) < FEWEST_CLUSTERS:
        return (share, np.nan, np.nan)
    drawn = resampled_incidence(ends.ended, ends.cause, DAMAGED, ends.entry, cluster_weights(mat), age)
    return (share, *map(float, interval(drawn)))


def _otherwise(question, counted):
    """Of the whole pool: with suspects, with cables of unknown age, as if bad ones had been taken out before, without
    readings near the limit."""
    cables, clock = question.cables, question.clock
    tried = {
        "suspects": cable_lives(cables, checks_of(cables, suspect=True), clock),
        "older": cable_lives(cables, counted, clock, older=True),
        "culled": cable_lives(cables, counted, clock, culled=True),
        "sure": cable_lives(cables, checks_of(cables, sure=True), clock),
    }
    for how, found in tried.items():
        if _content(found.lives) != _content(question.lives.lives):
            yield Otherwise(how, len(found.lives), answer(found.lives, question.ages, (question.risk, HALF)))


def _next_over(question, whole):
    """By the Weibull life, of cables in service that no check found over: from their age today."""
    if whole.life.weibull is None:
        return None
    cables = question.cables
    over = np.zeros(len(cables.segment), bool)
    over[question.lives.row[question.lives.lives.is_over]] = True
    rows = np.flatnonzero(cables.in_service & cables.age_known & ~over)
    ages = cables.clock_at(Clock.YEARS, rows, np.full(len(rows), cables.state.day))
    return expected_over(whole.life.weibull, ages, 1.0)


def answer(lives, ages, shares):
    """GroupLife of Lives at some ages, and at the points of a drawing."""
    grid = np.linspace(0, lives.watched_until, POINTS) if len(lives) else np.zeros(0)
    return _answered(_content(lives), tuple(sorted({*ages, *grid.tolist()})), shares)


def _content(lives):
    return tuple(getattr(lives, name).tobytes() for name in ("entry", "low", "high", "cluster"))


@lru_cache(maxsize=KEPT)
def _answered(content, ages, shares):
    *numbers, cluster = content
    return group_life(Lives(*map(np.frombuffer, numbers), np.frombuffer(cluster, np.int64)), ages, shares)
