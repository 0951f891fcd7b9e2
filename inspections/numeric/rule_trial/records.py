"""What a rule is played on, what a rule is, and what came of it."""

from dataclasses import dataclass, fields, replace

import numpy as np

# a cable that no rule asks for goes out at the end of what is looked at
LONGEST_LIFE_YEARS = 40.0
# nobody changes a cable more often, whatever a rule asks
SHORTEST_LIFE_YEARS = 1 / 12


@dataclass(frozen=True)
class Places:
    """Positions, arrays (places,), those of one mat side by side. `mat`: numbered from 0 on in order; `events_a_year`:
    that its mat goes to; `pace`: units of the wear clock in a year (1 where it counts years, else its events)."""

    mat: np.ndarray
    length_m: np.ndarray
    limit_db: np.ndarray
    accepted_risk: np.ndarray
    events_a_year: np.ndarray
    pace: np.ndarray

    def __len__(self):
        return len(self.mat)

    @property
    def mats(self):
        return int(self.mat[-1]) + 1 if len(self) else 0

    @property
    def first_of_mat(self):
        """Row of the first place of each mat."""
        return np.searchsorted(self.mat, np.arange(self.mats))

    def some_of_many(self, most):
        """(rows of these places, or of whole mats with about `most` of them; how many times as many mats there are):
        mats drawn evenly from those in order of use and size."""
        sizes = np.diff(np.append(self.first_of_mat, len(self)))
        kept = min(self.mats, max(1, round(self.mats * most / max(len(self), 1))))
        in_order = np.lexsort((sizes, self.events_a_year[self.first_of_mat]))
        drawn = in_order[((np.arange(kept) + 0.5) * self.mats / max(kept, 1)).astype(int)]
        return np.flatnonzero(np.isin(self.mat, drawn)), self.mats / max(kept, 1)

    def take(self, rows):
        """Some of the places, whole mats, which are numbered anew."""
        kept = replace(self, **{field.name: getattr(self, field.name)[rows] for field in fields(self)})
        return replace(kept, mat=np.unique(kept.mat, return_inverse=True)[1])


@dataclass(frozen=True)
class FixedRule:
    """A cable goes out after `life_years` (places,); inf: not by this rule. Nobody measures."""

    life_years: np.ndarray

    def at(self, rows):
        return FixedRule(self.life_years[rows])

    @property
    def within_bounds(self):
        return np.clip(self.life_years, SHORTEST_LIFE_YEARS, LONGEST_LIFE_YEARS)


@dataclass(frozen=True)
class TrendRule:
    """A cable is read when it is fitted, and with all others every `check_months`; it goes out on the day on which the
    trend gives the accepted risk, or when it reads over for certain by `reading_sd_db`."""

    check_months: int
    reading_sd_db: float

    def at(self, rows):
        """The same everywhere."""
        return self


@dataclass(frozen=True)
class Outcome:
    """A year of the whole pool under a rule, arrays (draws, 2): played twice in each draw, by other chance.

    `changes`: cables that went out, damaged ones too; `late`: those that the rule took out after they were over;
    `events_over`: mats at an event with at least one of their cables over; `cable_share_over`: of the time of all
    cables; `readings`: cables read; `mats_checked`: mats laid on the bench for a check.
    """

    changes: np.ndarray
    late: np.ndarray
    events_over: np.ndarray
    cable_share_over: np.ndarray
    readings: np.ndarray
    mats_checked: np.ndarray

    def times(self, mats):
        """The same of so many times as many mats."""
        scaled = {field.name: mats * getattr(self, field.name) for field in fields(self)}
        return Outcome(**scaled | {"cable_share_over": self.cable_share_over})
