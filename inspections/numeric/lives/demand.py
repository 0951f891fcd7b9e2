"""How many will be over soon, by a fitted life."""

import numpy as np


def expected_over(life, ages, ahead):
    """How many of things of these ages that are within will be over `ahead` later: Σ [F(t + ahead) − F(t)]/S(t)
    (Meeker & Escobar 1998, chapter 12; from memory). `life`: a Weibull."""
    now, then = life.survival(np.asarray(ages, float)), life.survival(np.asarray(ages, float) + ahead)
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(np.where(now > 0, 1 - then / now, 1.0).sum())
