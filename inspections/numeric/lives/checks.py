"""From bench checks to lives: the last sure pass, and the first sure fail after it."""

from dataclasses import dataclass

import numpy as np

from ..words import Verdict


@dataclass(frozen=True)
class Checked:
    """Arrays, one row a life: `low` and `high` as in Lives (0 never seen within, inf never seen over); `checks`: how
    many were sure; `taken_back`: an earlier *over* was followed by a *within*, and does not count."""

    low: np.ndarray
    high: np.ndarray
    checks: np.ndarray
    taken_back: np.ndarray


def lives_of_checks(life, age, verdict, count, *, when=None, step=0.0):
    """Checked of `count` lives from single checks: number of the life, its age then, Verdict. Arrays in any order.

    What is undecided or without a verdict widens the span. Wear does not heal: where a *within* follows an *over*, the
    later look stands. A check before age 0 counts as at 0. `when`: which look was later, where ages do not tell (their
    clock stood still between two looks); then it went over by the next `step` of the clock.
    """
    age = np.maximum(np.asarray(age, float), 0.0)
    when = age if when is None else np.asarray(when, float)
    within, over = verdict == Verdict.WITHIN, verdict == Verdict.OVER
    last_within, low = np.full(count, -np.inf), np.zeros(count)
    np.maximum.at(last_within, life[within], when[within])
    np.maximum.at(low, life[within], age[within])
    after = over & (when > last_within[life])
    high = np.full(count, np.inf)
    np.minimum.at(high, life[after], age[after])
    taken_back = np.bincount(life[over & ~after], minlength=count) > 0
    checks = np.bincount(life[within | over], minlength=count)
    return Checked(low, np.maximum(high, low + step), checks, taken_back)
