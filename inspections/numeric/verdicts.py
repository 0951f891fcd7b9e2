"""The verdict of one reading against the loss limit, with its uncertainty."""

import numpy as np

from .words import Verdict

# Conformance probability at which a reading is called within (or, mirrored, over): JCGM 106:2012, clause 7.3;
# 95 % is the usual choice of decision rules (ILAC-G8, ISO 14253-1).
SURE = 0.95


def conformance_probability(loss_db, standard_uncertainty_db, limit_db):
    """P(true loss ≤ limit) = Φ((L − y)/u), JCGM 106:2012 clause 7.3. Arrays broadcast."""
    from scipy.special import ndtr

    # a quotient beyond all numbers is as sure as can be; 0/0 decides nothing
    with np.errstate(all="ignore"):
        return ndtr((np.asarray(limit_db) - loss_db) / standard_uncertainty_db)


def verdict(loss_db, standard_uncertainty_db, limit_db):
    """Array of Verdict; '' where the loss is NaN (no reference loss, no verdict)."""
    return verdict_of_chance(conformance_probability(loss_db, standard_uncertainty_db, limit_db))


def guard_band_db(standard_uncertainty_db):
    """So near the limit, dB to each side, a reading is undecided: g = z·u, z the 95 % quantile of the normal.

    JCGM 106:2012 clause 8.3.2 (guarded acceptance; number from memory), with the factor of `SURE`.
    """
    from scipy.special import ndtri

    return float(ndtri(SURE)) * standard_uncertainty_db


def verdict_of_chance(sure):
    """Array of Verdict by the chance of being within the limit; '' where that is NaN."""
    decided = np.where(sure >= SURE, Verdict.WITHIN, np.where(sure <= 1 - SURE, Verdict.OVER, Verdict.UNDECIDED))
    return np.where(np.isnan(sure), "", decided)


# What two fresh cables of one kind may differ by in their connectors and clamps; our choice, no source. Two standard
# uncertainties beside it cover the reading, as usual for 95 % (JCGM 100:2008, 6.3.3).
FRESH_MARGIN_DB = 0.3
FRESH_COVERAGE = 2


def most_of_fresh_db(expected_db, standard_uncertainty_db):
    """Up to what loss a cable reads as a fresh one of which `expected_db` is expected. Arrays broadcast."""
    return np.asarray(expected_db) + FRESH_MARGIN_DB + FRESH_COVERAGE * np.asarray(standard_uncertainty_db)
