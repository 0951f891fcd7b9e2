"""How many will be over soon, and how many a rule of age changes in the long run, by a fitted life."""

import numpy as np


def expected_over(life, ages, ahead):
    """How many of things of these ages that are within will be over `ahead` later: Σ [F(t + ahead) − F(t)]/S(t)
    (Meeker & Escobar 1998, chapter 12; from memory). `life`: a Weibull."""
    now, then = life.survival(np.asarray(ages, float)), life.survival(np.asarray(ages, float) + ahead)
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(np.where(now > 0, 1 - then / now, 1.0).sum())


def mean_life_up_to(life, age):
    """∫₀ᵃ S: the mean age at which a thing is changed that goes at that age, or earlier once it is over."""
    from scipy.special import gamma, gammainc

    z, power = (age / life.scale) ** life.shape, 1 / life.shape
    return float(life.scale * gamma(1 + power) * gammainc(power, z))
