"""What is asked of a trial of rules: the pool's own positions at their own use, its fit, and the rules to play."""

from dataclasses import dataclass, fields
from functools import cached_property
from hashlib import sha256

import numpy as np

from fleet.parsing.durations import months_in_words

from ..choices import SETTINGS
from ..length_limits.services import PoolLimits, limits_of_day
from ..numeric.calendar import DAYS_A_YEAR, whole_months
from ..numeric.pool_points import PoolPoints
from ..numeric.rule_trial.plays import MONTHS, play
from ..numeric.rule_trial.predictions import Knowledge
from ..numeric.rule_trial.records import FixedRule, Places, TrendRule
from ..numeric.rule_trial.worlds import drawn_worlds
from ..numeric.words import Clock

TODAY, AGE, COUNT, LIMITS, TREND = "today", "age", "count", "limits", "trend"
CHECK_MONTHS = (6, 12, 24)
# pools drawn from what the readings leave open
DRAWS = 100
# that are played in each, of a smaller pool several times: enough that chance evens out, as far as time allows
PLACES = {FixedRule: 1_200, TrendRule: 400}


@dataclass(frozen=True)
class RuleName:
    """A rule to play: TODAY (the limits in force, of age and events, whichever comes first), AGE of so many years,
    COUNT of so many events, LIMITS by length, or TREND with a check every so many months."""

    kind: str
    value: float = 0.0

    @property
    def words(self):
        """What pages and programs call it."""
        return {
            TODAY: "today’s limits",
            AGE: months_in_words(round(MONTHS * self.value)),
            COUNT: f"{self.value:.0f} events",
            LIMITS: "limits by length",
            TREND: f"trend, read every {self.value:.0f} months",
        }[self.kind]


@dataclass(frozen=True)
class Asked:
    """What somebody wants to see beside today's limits: an age in years, a count of events."""

    age_years: float
    events: float


@dataclass(frozen=True)
class Board:
    """Places on which rules of a kind are played: `rows` of the pool's own, as many mats as `times` stand for."""

    rows: np.ndarray
    places: Places
    times: float

    @classmethod
    def of(cls, places, most):
        rows, times = places.some_of_many(most)
        return cls(rows, places.take(rows), times)


@dataclass(frozen=True, eq=False)
class Question:
    """All that answers are made of. `places`: all of the pool; `events`: that its mats go to in a year, counted for
    each mat; `damaged` of cables in `cable_years`. `key`: the same for the same question."""

    points: PoolPoints
    places: Places
    rules: dict
    damaged: int
    cable_years: float
    by_years: bool

    @cached_property
    def key(self):
        digest = sha256(repr([self.damaged, self.cable_years, self.by_years, DRAWS, *PLACES.values()]).encode())
        for each in (self.points, self.places):
            for field in fields(each):
                value = getattr(each, field.name)
                digest.update(value.tobytes() if isinstance(value, np.ndarray) else repr(value).encode())
        return digest.hexdigest()

    @property
    def events(self):
        return float(self.places.events_a_year[self.places.first_of_mat].sum())

    @cached_property
    def boards(self):
        return {kind: Board.of(self.places, most) for kind, most in PLACES.items()}

    @property
    def fewest_mats(self):
        """Mats that stand for all where the pool is large."""
        return min(board.places.mats for board in self.boards.values())

    def play(self, name):
        """Outcome of the rule of that name for the whole pool."""
        rule = self.rules[name]
        board, most = self.boards[type(rule)], PLACES[type(rule)]
        watched = {"damaged": self.damaged, "cable_years": self.cable_years, "by_years": self.by_years}
        worlds = drawn_worlds(self.points, board.places, **watched, draws=DRAWS, least_places=most)
        known = Knowledge.of(self.points, board.places, by_years=self.by_years)
        return play(rule.at(board.rows), worlds, board.places, known).times(board.times)


@dataclass(frozen=True)
class Trial:
    """`limits`: PoolLimits of the day; `question`: None where nothing can be played: without a fit, without a cable in
    service, or where wear falls by the readings."""

    limits: PoolLimits
    question: Question | None
    falls: bool = False


def asked_of_policy(policy):
    """Asked: the pool's own limits, which are the defaults of the policy where the pool has none."""
    return Asked(*(policy.value(name) or SETTINGS[name].default for name in ("age_limit_years", "event_limit")))


def trial_of_day(on, today, asked=None, known=None):
    """Trial as of `on`; `today`: the day of the clock on the wall; `known`: LimitsOfDay, where it was made already."""
    known = known or limits_of_day(on, today)
    limits, cables = known.own, known.cables
    falls = any(np.isnan(row.age) for row in limits.rows)
    state = cables.state
    if not limits.has_fit or falls or not len(state.current):
        return Trial(limits, None, falls)
    rows = np.argsort(state.mat, kind="stable")
    places, asked = _places(state, rows, limits.clock), asked or asked_of_policy(state.policy)
    rules, by_years = _rules(state, limits, rows, places, asked), limits.clock == Clock.YEARS
    return Trial(limits, Question(limits.model.points, places, rules, **_damage(cables), by_years=by_years))


def _places(state, rows, clock):
    """Places of the assessed cables, in an order in which those of a mat stand side by side."""
    mat = state.mat[rows]
    events = state.logs.counted.of_last_year(mat, state.day).astype(float)
    return Places(
        mat=np.unique(mat, return_inverse=True)[1],
        length_m=state.fittings.length_m[state.current][rows],
        limit_db=state.of_place("loss_limit_db")[rows],
        accepted_risk=state.of_place("accepted_risk")[rows],
        events_a_year=events,
        pace=np.ones(len(rows)) if clock == Clock.YEARS else events,
    )


def _rules(state, limits, rows, places, asked):
    """{RuleName: rule} in the order in which they are shown."""
    age = _or_never(whole_months(state.of_place("age_limit_years")[rows]) / MONTHS)
    events = _years_of_events(_or_never(state.of_place("event_limit")[rows].astype(float)), places)
    sd_db, each = state.policy.value("reading_uncertainty_db"), np.ones(len(rows))
    return {
        RuleName(TODAY): FixedRule(np.minimum(age, events)),
        RuleName(AGE, asked.age_years): FixedRule(asked.age_years * each),
        RuleName(COUNT, asked.events): FixedRule(_years_of_events(asked.events * each, places)),
        RuleName(LIMITS): FixedRule(_by_length(state, limits, rows, places, age, events)),
        **{RuleName(TREND, months): TrendRule(months, sd_db) for months in CHECK_MONTHS},
    }


def _by_length(state, limits, rows, places, age, events):
    """Life of each place by the limits that the pool's history proposes; the other clock's limit stays as it is."""
    found = {(row.design.pk, row.position): limits.proposal(row) or row.today for row in limits.rows}
    design, position = (part[state.current][rows] for part in (state.fittings.design, state.fittings.position))
    of_place = zip(design.tolist(), position.tolist(), strict=True)
    value = _or_never(np.array([found.get(place, 0.0) for place in of_place], float))
    if limits.clock == Clock.YEARS:
        return np.minimum(value, events)
    return np.minimum(age, _years_of_events(value, places))


def _or_never(limit):
    """0 switches a limit off."""
    return np.where(limit > 0, limit, np.inf)


def _years_of_events(count, places):
    return np.divide(count, places.events_a_year, out=np.full(len(places), np.inf), where=places.events_a_year > 0)


def _damage(cables):
    """Cables that damage ended, and the years for which cables were in mats until then."""
    damaged = ~np.isnat(cables.damaged_on)
    end = np.where(damaged, np.fmin(cables.damaged_on, cables.last_on), cables.last_on)
    years = np.maximum((end - cables.first_on).astype(float), 0).sum() / DAYS_A_YEAR
    return {"damaged": int(damaged.sum()), "cable_years": float(years)}
