"""Cables of which nobody knows for certain since when they are where they are."""

from collections import Counter
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter

from ..choices import FittedBasis
from ..models import Fitting, Mat
from .seen import version_of


@dataclass(frozen=True)
class GuessedMat:
    """One mat with its fittings whose day is a guess, by position."""

    mat: Mat
    fittings: list

    @property
    def days(self):
        """(a fitting, how many have the same day and basis), the most frequent first."""
        same = Counter((fitting.fitted_on, fitting.fitted_basis) for fitting in self.fittings)
        one = {(fitting.fitted_on, fitting.fitted_basis): fitting for fitting in self.fittings}
        return [(one[day], count) for day, count in same.most_common()]


def guessed_mats(on):
    """`GuessedMat` of each mat in use that holds a cable whose day of fitting is not known for certain; two queries."""
    fittings = Fitting.objects.in_service(on).exclude(fitted_basis=FittedBasis.KNOWN).select_related("segment", "mat")
    in_order = fittings.order_by("mat__number", "position")
    return [GuessedMat(mat, list(group)) for mat, group in groupby(in_order, key=attrgetter("mat"))]


def versions_of(fittings):
    """Stands for each of these fittings in exactly this version."""
    return " ".join(map(version_of, fittings))
