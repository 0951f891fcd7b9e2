"""Loose cables of one kind, judged together: which are fit for stock, which are not, which to measure again.

A cable over the limit is not fit, one that nothing decides is measured again. New ones are held against two more
things. One: what a fresh one of that length and type reads (`verdicts.most_of_fresh_db`). Two: the others of the
batch, once ENOUGH of them are read, since cables of one lot differ by less than any two fresh ones do. What is unlike
is measured again first, for most often it is a connector that was not tight; unlike twice, it is not fit.
"""

from dataclasses import dataclass

import numpy as np

from .words import BatchAnswer, Unlike, Verdict

# Fewer do not tell what is usual among them. Our choice: with five, two bad ones cannot move the median far.
ENOUGH = 5
# Iglewicz & Hoaglin (1993): 0.6745 (x - median) / MAD beyond 3.5 is likely an outlier, as told in NIST/SEMATECH
# e-Handbook 1.3.5.17 (from memory); 1/0.6745 = 1.4826. The median and the MAD are moved by no bad ones, as long as
# these are less than half: a mean would be drawn towards them.
TIMES_SPREAD = 3.5
SPREAD_OF_MAD = 1 / 0.6745
# What one cable that is connected anew reads differently, as standard deviation, at a usual bench (engineering
# judgement: 0.03 dB at a good one, 0.05 usual): readings that are typed with few decimals may have a MAD of nothing.
LEAST_SPREAD_DB = 0.05


@dataclass(frozen=True)
class OwnRange:
    """What is usual in a batch, dB: its median, and from where to where others may read. NaN: too few were read."""

    median_db: float = np.nan
    least_db: float = np.nan
    most_db: float = np.nan

    @property
    def known(self):
        return bool(np.isfinite(self.median_db))


def own_range(losses_db):
    """OwnRange of the newest reading of each cable, reference losses in dB; NaN among them are left out."""
    losses = np.asarray(losses_db, float)
    losses = losses[np.isfinite(losses)]
    if losses.size < ENOUGH:
        return OwnRange()
    middle = float(np.median(losses))
    spread = max(SPREAD_OF_MAD * float(np.median(np.abs(losses - middle))), LEAST_SPREAD_DB)
    return OwnRange(middle, middle - TIMES_SPREAD * spread, middle + TIMES_SPREAD * spread)


def unlike(loss_db, most_of_fresh_db, own):
    """What a new cable of that reference loss, dB, is Unlike; '' for nothing, or where nothing is known.

    `most_of_fresh_db`: NaN, nobody knows what a fresh one reads. `own`: an OwnRange.
    """
    if loss_db > most_of_fresh_db:
        return Unlike.FRESH
    if loss_db > own.most_db:
        return Unlike.ABOVE
    return Unlike.BELOW if loss_db < own.least_db else ""


def answer(verdict, unlike_now, unlike_before):
    """BatchAnswer of a cable by its newest reading; `unlike_before`: an earlier one was unlike, too."""
    if verdict == Verdict.OVER:
        return BatchAnswer.NOT
    if verdict != Verdict.WITHIN:
        return BatchAnswer.AGAIN
    if unlike_now:
        return BatchAnswer.NOT if unlike_before else BatchAnswer.AGAIN
    return BatchAnswer.FIT


@dataclass(frozen=True)
class LossesInShort:
    """Of a batch or a lot, dB: how many cables have a number, their median, standard deviation, and the worst."""

    count: int
    median_db: float | None = None
    spread_db: float | None = None
    worst_db: float | None = None


def losses_in_short(losses_db):
    """LossesInShort; the standard deviation that the MAD stands for, so that one bad cable does not widen it."""
    losses = np.asarray(losses_db, float)
    losses = losses[np.isfinite(losses)]
    if not losses.size:
        return LossesInShort(0)
    middle = np.median(losses)
    spread = SPREAD_OF_MAD * float(np.median(np.abs(losses - middle))) if losses.size > 1 else None
    return LossesInShort(int(losses.size), float(middle), spread, float(losses.max()))
