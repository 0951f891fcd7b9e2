"""A rule played on worlds of the same places: who is changed when, and what that costs and leaves at risk.

Under a rule of age or count the pool begins as it is in the long run: ages as even as the life allows (renewal theory:
Cox 1962, Renewal Theory, chapter 5; from memory). Under the trend cables of all ages are read once, those that the rule
would not have left are drawn again, and some years pass before anything is counted.
"""

import math

import numpy as np

from .predictions import Predictions
from .records import LONGEST_LIFE_YEARS, SHORTEST_LIFE_YEARS, FixedRule, Outcome

YEARS = 10
# looks at which cables are over, in a year; changes are made on their day between them
LOOKS_A_YEAR = 4
MONTHS = 12
WARM_UP_YEARS = 4
# mats that one bench day takes
MATS_A_BENCH_DAY = 12
REDRAWS = 12
# a fresh cable that the trend would take out at once stays for so long all the same: another would be no better
SHORTEST_BY_TREND_YEARS = 0.25
# of reading over for certain: normal quantile of 95 %, as verdicts have it
CERTAIN = 1.6448536269514722


def play(rule, worlds, places, knowledge, *, years=YEARS, seed=1):
    """Outcome by draw of FixedRule or TrendRule on Worlds of Places; Knowledge: what the keeper's fit says."""
    rng = np.random.default_rng(seed)
    if isinstance(rule, FixedRule):
        return FixedPlay(rng, worlds, places, rule).go(years)
    return TrendPlay(rng, worlds, places, rule, knowledge, years).go(years)


class Play:
    """The cable in each place of all worlds, in a row (worlds * places): its own `level` (without what settles) at day
    `at` (years), rate, day of fitting `since`, the day on which the rule takes it out and that of its damage."""

    reads_when_fitted = False

    def __init__(self, rng, worlds, places):
        self.rng, self.worlds, self.places = rng, worlds, places
        count = worlds.fresh.level.size
        self.level, self.rate, self.since, self.at, self.due, self.damaged = np.zeros((6, count))
        self.sd_wander = np.sqrt(worlds.fresh.q).ravel()
        self.limit_db = (places.limit_db - worlds.lowered_db).ravel()
        self.settling_db = np.repeat(worlds.settling_db[:, 0], len(places))
        halves = worlds.halves(places.mats)
        self.half_of_mat, self.half_of_row = halves.ravel(), halves[:, places.mat].ravel()
        self.changes, self.late, self.events_over, self.time_over, self.readings, self.mats_checked = np.zeros(
            (6, halves.max() + 1)
        )

    def over_years(self, start, end):
        """Look at all cables between two days, and change what is due until then."""
        looks = max(1, round((end - start) * LOOKS_A_YEAR))
        step = (end - start) / looks
        for day in start + step * (np.arange(looks) + 0.5):
            self.change_until(day)
            self.advance(slice(None), day)
            if day >= 0:
                self.look(step, day)
        self.change_until(end)

    def look(self, step, day):
        over, first = self.is_over(slice(None), day), self.places.first_of_mat
        self.time_over += step * self.counted(self.half_of_row, over)
        any_over = np.logical_or.reduceat(over.reshape(self.worlds.shape), first, axis=1)
        self.events_over += step * self.counted(self.half_of_mat, any_over * self.places.events_a_year[first])

    def change_until(self, day):
        """Cables that are due or damaged before `day` go out, and so may those that come in."""
        while (rows := np.flatnonzero(np.minimum(self.due, self.damaged) < day)).size:
            until = np.minimum(self.due[rows], self.damaged[rows])
            planned = self.due[rows] <= self.damaged[rows]
            self.advance(rows, until)
            counts = until >= 0
            self.changes += self.counted(self.half_of_row[rows], counts)
            self.late += self.counted(self.half_of_row[rows], counts & planned & self.is_over(rows, until))
            self.readings += self.counted(self.half_of_row[rows], counts & self.reads_when_fitted)
            self.fit_fresh(rows, until)

    def counted(self, half, weights):
        """Sums of weights by half draw."""
        return np.bincount(half, np.ravel(weights), minlength=len(self.changes))

    def fit_fresh(self, rows, since):
        self.level[rows], self.rate[rows] = self.worlds.draw_cables(self.rng, rows)
        self.at[rows] = self.since[rows] = since
        self.damaged[rows] = since + self.time_to_damage(rows)

    def time_to_damage(self, rows):
        rate = self.worlds.damage_a_year[rows // self.worlds.shape[1], 0]
        with np.errstate(divide="ignore"):
            return self.rng.exponential(1.0, len(rows)) / rate

    def advance(self, rows, day):
        """Wear until that day."""
        ahead = np.maximum(day - self.at[rows], 0.0)
        wander = self.sd_wander[rows] * np.sqrt(ahead) * self.rng.standard_normal(len(ahead))
        self.level[rows] += self.rate[rows] * ahead + wander
        self.at[rows] = day

    def loss_db(self, rows, day):
        """The cables' own loss, with what has settled."""
        return self.level[rows] + self.settling_db[rows] * self.worlds.share_settled(day - self.since[rows])

    def is_over(self, rows, day):
        return self.loss_db(rows, day) >= self.limit_db[rows]

    def outcome(self, years):
        share_over = self.time_over / len(self.places)
        tallies = (self.changes, self.late, self.events_over, share_over, self.readings, self.mats_checked)
        return Outcome(*(self.worlds.by_half(tally) / years for tally in tallies))


class FixedPlay(Play):
    """By age or count: nobody measures."""

    def __init__(self, rng, worlds, places, rule):
        super().__init__(rng, worlds, places)
        self.life = np.tile(rule.within_bounds, worlds.shape[0])

    def go(self, years):
        rows = np.arange(len(self.life))
        self.fit_fresh(rows, -self.ages_in_the_long_run())
        # no damage until today
        self.damaged = self.time_to_damage(rows)
        self.over_years(0.0, years)
        return self.outcome(years)

    def fit_fresh(self, rows, since):
        super().fit_fresh(rows, since)
        self.due[rows] = since + self.life[rows]

    def ages_in_the_long_run(self):
        """Of density exp(-damage * age) up to the life that the rule gives."""
        u, rate = self.rng.random(len(self.life)), np.repeat(self.worlds.damage_a_year[:, 0], len(self.places))
        with np.errstate(divide="ignore", invalid="ignore"):
            aged = -np.log1p(u * np.expm1(-rate * self.life)) / rate
        return np.where(rate > 0, aged, u * self.life)


class TrendPlay(Play):
    """By the trend: each cable is read when it is fitted, and all on the bench days of each check."""

    reads_when_fitted = True

    def __init__(self, rng, worlds, places, rule, knowledge, years):
        super().__init__(rng, worlds, places)
        every, bench = rule.check_months / MONTHS, places.mat // MATS_A_BENCH_DAY
        checks = math.ceil((WARM_UP_YEARS + years) / every)
        self.every, self.known = every, Predictions(knowledge, places, bench, worlds.shape[0], checks)
        self.sigma_db = np.repeat(worlds.sigma_db[:, 0], len(places))
        self.day_sd_db = np.repeat(worlds.day_sd_db[:, 0], len(places))
        self.shown_over_db = np.tile(places.limit_db + CERTAIN * rule.reading_sd_db, worlds.shape[0])
        self.next_check = -float(WARM_UP_YEARS)

    def go(self, years):
        self.begin()
        day = self.next_check - self.every
        while day < years:
            self.over_years(day, min(self.next_check, years))
            day = self.next_check
            if day < years:
                if day == 0:
                    # the fit knows what it knows today
                    self.known.shared.forget_lines()
                self.next_check = day + self.every
                self.check(day)
        return self.outcome(years)

    def begin(self):
        """Cables of all ages, read when they were fitted and once more at the start: of those that the rule would have
        taken out by then others take the place."""
        start, rows = self.next_check, np.arange(len(self.since))
        self.next_check, oldest = start + self.every, self.oldest()
        for _ in range(REDRAWS):
            self.fit_and_read(rows, start - oldest[rows] * self.rng.random(len(rows)))
            self.advance(rows, start)
            self.known.read_alone(rows, start, self.loss_db(rows, start) + self.scatter_db(rows))
            self.due[rows] = self.known.due_before(rows, self.next_check)
            rows = rows[np.minimum(self.due[rows], self.damaged[rows]) <= start]
            if not rows.size:
                break
        self.known.shared.forget_lines()

    def oldest(self):
        """Age to which ages are drawn: twice that at which a mean cable is over."""
        fresh = self.known.knowledge.fresh
        with np.errstate(divide="ignore"):
            age = np.where(fresh.rate > 0, 2 * (self.places.limit_db - fresh.level) / fresh.rate, np.inf)
        return np.tile(np.clip(age, SHORTEST_LIFE_YEARS, LONGEST_LIFE_YEARS), self.worlds.shape[0])

    def fit_fresh(self, rows, since):
        self.fit_and_read(rows, since)
        self.due[rows] = np.maximum(self.known.due_before(rows, self.next_check), since + SHORTEST_BY_TREND_YEARS)

    def fit_and_read(self, rows, since):
        super().fit_fresh(rows, since)
        self.known.fit_fresh(rows, since)
        self.known.read_alone(rows, since, self.loss_db(rows, since) + self.scatter_db(rows))

    def scatter_db(self, rows):
        """Of readings each on its own bench day."""
        return np.hypot(self.sigma_db[rows], self.day_sd_db[rows]) * self.rng.standard_normal(len(rows))

    def check(self, day):
        """Read all that is fitted, and see what is due before the next check."""
        rows = np.arange(len(self.since))
        self.advance(slice(None), day)
        bench = self.known.bench_of_row
        shift = self.rng.standard_normal(bench[-1] + 1)[bench] * self.day_sd_db
        loss_db = self.loss_db(slice(None), day) + shift + self.sigma_db * self.rng.standard_normal(len(rows))
        self.known.check(day, loss_db)
        self.due = np.maximum(self.known.due_before(rows, self.next_check), day)
        self.due[loss_db >= self.shown_over_db] = day
        if day >= 0:
            self.readings += self.counted(self.half_of_row, np.ones(len(rows)))
            self.mats_checked += self.counted(self.half_of_mat, np.ones(len(self.half_of_mat)))
