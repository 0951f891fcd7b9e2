"""Cables that the keeper of the demo pool left in beyond the limit, to learn how long they last: some mats by lot.

The lot fell some years ago, and all of it is over, so that no such cable stands in the due list. Of each mat a note
tells it.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from fleet.choices import NoteAbout
from fleet.models import Mat, Note
from inspections.numeric.sample_draws import draw

from . import names

# (days ago, mats of each design): drawn twice, the second time of the long ones only, which wear first
LOTS = ((2520, {"Fen 200": 3, "Fen 400": 4, "Fen 600": 3}), (1250, {"Fen 600": 3}))
# days ago: all of it was given up, and what was older than the limit went out
UNTIL_DAYS = 100
SEED = 2
MOST_YEARS = 6
OLD, GIVEN_UP = "six years old", "older than the limit, left in no longer"
TEXT = (
    "Drawn by lot, and goes out beside a second mat: its cables stay in beyond the age limit until they read over, for "
    "six years at most, and are read twice a year, to learn how long they last."
)


@dataclass(frozen=True)
class LeftLonger:
    """Mats, by number the days from and up to which their cables stay in beyond the age limit."""

    spans: dict[str, tuple[date, date]]
    mats: tuple[Mat, ...]

    def holds(self, mat, day):
        since, until = self.spans.get(mat.number, (date.max, date.max))
        return since <= day < until

    def last_day(self, mat, begun, usual):
        """(day, reason) on which a cable of this mat that began then goes out by its age; `usual`: in other mats."""
        if not self.holds(mat, usual):
            return usual, "age"
        old, (_, until) = begun + timedelta(days=int(365.25 * MOST_YEARS)), self.spans[mat.number]
        return min((old, OLD), (until, GIVEN_UP))

    def notes(self):
        """Unsaved, one of each mat, done when it was over."""
        for number, mat in enumerate(self.mats, 1):
            since, until = self.spans[mat.number]
            days = {"noted_on": since, "done_on": min(until, mat.withdrawn_on or until)}
            who = names.MEASURED_BY[-1]
            yield Note(code=f"N-{number:05d}", about=NoteAbout.MAT, mat=mat, text=TEXT, written_by=who, **days)


def left_longer(mats, on):
    """LeftLonger of mats by lot: so many of each design, of those that were there and come to a bench."""
    drawn, spans, until = [], {}, on - timedelta(days=UNTIL_DAYS)
    for seed, (days, counts) in enumerate(LOTS, SEED):
        since = on - timedelta(days=days)
        left = [mat for mat in mats if _may_be_drawn(mat, since) and mat not in drawn]
        for code, count in counts.items():
            drawn += _drawn([mat for mat in left if mat.design.code == code], count, seed)
        for mat in drawn:
            spans.setdefault(mat.number, (since, until + timedelta(days=len(spans))))
    return LeftLonger(spans, tuple(drawn))


def _may_be_drawn(mat, since):
    return mat.depot.name != names.DEPOT_WITHOUT_BENCH and mat.acquired_on <= since


def _drawn(mats, count, seed):
    alike = [0] * len(mats)
    return [mats[row] for row in draw(alike, count, seed, alike)]
