"""What is kept of a fit to answer for single segments: parameters, fixed part and shifts, at one point or several.

A large pool is answered at the optimum (one point), a small one over weighted points that stand for the uncertainty of
the variance parameters. The covariance between the shifts of two bench days comes through the fixed part, which each
point has for itself, and through the segments read on both: of that the mean over the points is kept, and beyond 400
days nothing.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .reading_blocks import lay_out
from .wear_model import SETTLING_PRIOR, FixedColumns, Variances

# bench days up to which their covariances are kept
MOST_DAYS = 400


@dataclass(frozen=True)
class PoolPoints:
    """Points (g of them) of the parameters of a pool with `with_length`, `settling` columns.

    `scale`: units of the clock to one of the points' time; `weight` (g,) of sum 1; `variances` (5, g) in units of
    `sigma2` (g,) dB^2; `values` (g, columns) dB of the fixed columns (scaled); `shift_db` (g, days); over sigma^2:
    covariances `fixed` (g, columns, columns), `fixed_day` (g, columns, days), `day` (g, days: variances), and `between`
    (days, days), what of them does not come through the fixed part, or None. `keys`, `day_readings` (days,).
    """

    scale: float
    with_length: bool
    settling: bool
    weight: np.ndarray
    variances: np.ndarray
    sigma2: np.ndarray
    values: np.ndarray
    shift_db: np.ndarray
    fixed: np.ndarray
    fixed_day: np.ndarray
    day: np.ndarray
    between: np.ndarray | None
    keys: np.ndarray
    day_readings: np.ndarray

    @classmethod
    def of(cls, optimum, variances, sigma2, solution, weight):
        """Points at `variances` (Variances), `sigma2`, `weight` (g,) with the Solution there; `optimum` of the pool."""
        columns, kappa = optimum.deviance.columns, np.sqrt(variances.day)
        fixed, inverse = len(columns), solution.inverse
        days = inverse[:, fixed:, fixed:] * (kappa**2)[:, None, None]
        fixed_day = inverse[:, :fixed, fixed:] * kappa[:, None, None]
        values = solution.values[:, :fixed].copy()
        values[:, 0] += optimum.centre_db
        return cls(
            scale=optimum.fit.scale,
            with_length=columns.with_length,
            settling=columns.settling,
            weight=weight,
            variances=np.stack(variances),
            sigma2=sigma2,
            values=values,
            shift_db=solution.values[:, fixed:] * kappa[:, None],
            fixed=inverse[:, :fixed, :fixed],
            fixed_day=fixed_day,
            day=np.einsum("gdd->gd", days).copy(),
            between=_not_through(days, inverse[:, :fixed, :fixed], fixed_day, weight),
            keys=optimum.days,
            day_readings=optimum.day_readings,
        )

    def pieces_of(self, readings, length_m):
        """Pieces of all segments with a reading, laid out for these points."""
        return self.pieces_in(lay_out(readings, length_m, self.keys, self.scale))

    def pieces_in(self, blocks):
        """Pieces of blocks that are laid out for these points."""
        for block in blocks:
            if block.readings_each:
                yield from block.pieces(len(self.weight))

    @property
    def columns(self):
        return FixedColumns(self.with_length, self.settling)

    @property
    def relative(self):
        return Variances(*self.variances)

    @property
    def wander_db2(self):
        """q (g,) per unit of scaled time."""
        return self.relative.wander * self.sigma2

    @property
    def settling_db(self):
        """mu (g,)."""
        return SETTLING_PRIOR * self.values[:, -1] if self.settling else np.zeros(len(self.weight))

    def shifts(self):
        """(shift, standard deviation) of each bench day, dB: of the mixture of all points."""
        mean = self.weight @ self.shift_db
        within = self.weight @ (self.sigma2[:, None] * self.day)
        return mean, np.sqrt(within + self.weight @ (self.shift_db - mean) ** 2)

    @cached_property
    def shift_padded(self):
        """`shift_db` with a last nought, for readings without a shift."""
        return np.pad(self.shift_db, ((0, 0), (0, 1)))

    @cached_property
    def fixed_day_padded(self):
        return np.pad(self.fixed_day, ((0, 0), (0, 0), (0, 1)))

    @cached_property
    def _through_fixed(self):
        """(fixed^-1 fixed_day, own part of each day's variance): the covariances that come through the fixed part."""
        through = np.linalg.solve(self.fixed, self.fixed_day_padded)
        day = np.pad(self.day, ((0, 0), (0, 1)))
        return through, day - np.einsum("gad,gad->gd", self.fixed_day_padded, through)

    @cached_property
    def _between_padded(self):
        """Without the variances, which each point has for itself."""
        between = self.between - np.diag(self.between.diagonal())
        return np.pad(between, (0, 1))

    @cached_property
    def _table(self):
        """`covariance_of_days` of all pairs of columns: (g, columns * columns)."""
        each = np.arange(len(self.keys) + 1)[:, None]
        return self._computed(each).reshape(len(self.weight), -1)

    def variance_of(self, of_columns, of_days):
        """Variance over sigma^2 of what leans on the fixed columns and the shifts by these weights: (g, columns, m),
        (g, days + 1, m), the last of them for no shift, to (g, m)."""
        through, own = self._through_fixed
        both = of_columns + np.einsum("gak,gkm->gam", through, of_days)
        variance = np.einsum("gam,gab,gbm->gm", both, self.fixed, both) + np.einsum("gk,gkm->gm", own, of_days**2)
        if self.between is not None:
            variance += np.einsum("gkm,kl,glm->gm", of_days, self._between_padded, of_days)
        return variance

    def covariance_of_days(self, day):
        """Covariances over sigma^2 of the shifts of readings j and k, from columns `day` (n, s): (g, n, n, s)."""
        columns = len(self.keys) + 1
        if columns**2 > len(day) * day.size:
            return self._computed(day)
        return self._table.take(day[:, None] * columns + day, axis=1)

    def _computed(self, day):
        through, own = self._through_fixed
        covariance = np.einsum("gajs,gaks->gjks", self.fixed_day_padded[:, :, day], through[:, :, day])
        same = day[:, None] == day[None, :]
        covariance += np.where(same, own[:, day][:, :, None], 0.0)
        if self.between is not None:
            covariance += self._between_padded[day[:, None], day[None, :]]
        return covariance


def _not_through(days, fixed, fixed_day, weight):
    """Mean over the points of what of the covariances of `days` does not come through the fixed part; None of many."""
    if days.shape[1] > MOST_DAYS:
        return None
    through = np.linalg.solve(fixed, fixed_day)
    return np.einsum("g,gde->de", weight, days - np.einsum("gad,gae->gde", fixed_day, through))
