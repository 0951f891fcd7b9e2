"""The likelihood of the pooled loss trend (`wear_model`), and its gradient.

sigma^2 = RSS / (N - p),  -2 log REML = sum ln|V_i| + ln|H| + (N - p)(1 + ln 2 pi sigma^2), V_i, H and RSS as in
`likelihood_sums` and `mixed_equations` (Bates, Maechler, Bolker & Walker 2015, J. Stat. Softw. 67(1), sections 2, 3).
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from .likelihood_slopes import Padded, VarianceSlopes, slopes_of
from .likelihood_sums import Sums, sum_pieces, weigh
from .mixed_equations import Solution, solve
from .wear_model import FixedColumns, Variances

# of the search for sigma^2 with reference pieces
MOST_REPETITIONS = 100


class Evaluation(NamedTuple):
    """A deviance, with the Solution and sigma^2 there."""

    value: float
    solution: Solution
    sigma2: float


def _part_of(pieces, solution, fixed, kappa2):
    """(q, tr H^-1 H_p): the part of the reference pieces' Sums in RSS and in H."""
    kappa = float(np.sqrt(kappa2[0]))
    shift, between = kappa * solution.values[0, fixed:], kappa2[0] * solution.inverse[0, fixed:, fixed:]
    squares = pieces.yy[0] - 2 * shift @ pieces.dy[0] + shift @ pieces.dd[0] @ shift
    return float(squares), float((between * pieces.dd[0]).sum())


@dataclass(frozen=True)
class Deviance:
    """-2 log likelihood of theta = (l11, l21, l22, rho, kappa) with its gradient; REML, or ML for comparing clocks.

    `blocks`: readings laid out, `days`: bench days with a column. `sigma2`: None to profile it out, else fixed.
    `pieces`: Sums in dB of readings of reference pieces, whose variances are known in dB^2, or None.
    """

    blocks: tuple
    columns: FixedColumns
    days: int
    sigma2: float | None = None
    restricted: bool = True
    pieces: Sums | None = None

    @cached_property
    def readings(self):
        return sum(block.t.size for block in self.blocks)

    @property
    def numbers(self):
        """In all n x n matrices of segments."""
        return sum(block.t.size * block.readings_each for block in self.blocks)

    @property
    def degrees(self):
        return self.readings - (self.columns.free if self.restricted else 0)

    def _cut(self, points=1):
        return [piece for block in self.blocks if block.readings_each for piece in block.pieces(points)]

    def _sums(self, weighed):
        return sum_pieces(weighed, self.columns, self.days)

    def solutions(self, variances, sigma2):
        """(Solution, ln|V|) at each point: Variances and sigma^2 (points,)."""
        total = self._sums(weigh(cut, variances, sigma2) for cut in self._cut(len(variances.c00)))
        total = total if self.pieces is None else total + self.pieces.in_units_of(sigma2)
        return solve(total, self.columns, variances.day), total.log_det

    def __call__(self, theta):
        """(value, gradient[5])."""
        variances = Variances.from_root(*theta)
        weighed = [weigh(cut, variances) for cut in self._cut()]
        value, solution, sigma2 = self._evaluated(weighed, variances)
        return value, self._gradient(theta, weighed, solution, sigma2) if sigma2 > 0 else np.zeros(5)

    def at(self, theta):
        """Evaluation at theta."""
        variances = Variances.from_root(*theta)
        return self._evaluated((weigh(cut, variances) for cut in self._cut()), variances)

    def values(self, thetas):
        """Values at many thetas (points, 5) at once; not with reference pieces."""
        variances = Variances.from_root(*thetas.T)
        solution, log_det = self.solutions(variances, np.ones(len(thetas)))
        sigma2 = self.sigma2 or solution.residual_squares / self.degrees
        value = log_det + self._log_det_columns(solution) + self.degrees * np.log(2 * np.pi * sigma2)
        return value + solution.residual_squares / sigma2

    def _evaluated(self, weighed, variances):
        solution, sigma2, log_det = self._with_sigma2(self._sums(weighed), variances.day)
        if not sigma2 > 0:
            return Evaluation(np.inf, solution, sigma2)
        value = log_det[0] + self._log_det_columns(solution)[0]
        value += self.degrees * np.log(2 * np.pi * sigma2) + solution.residual_squares[0] / sigma2
        return Evaluation(value, solution, sigma2)

    def _with_sigma2(self, cables, kappa2):
        """(Solution, sigma^2, ln|V|): fixed, or where the derivative by it is nothing.

        With reference pieces, whose part of H and RSS grows with sigma^2 (q of RSS, H_p of H), that is
        sigma^2 = (RSS - q) / (N - p + tr H^-1 H_p), found by repetition.
        """
        if self.pieces is None:
            solution = solve(cables, self.columns, kappa2)
            sigma2 = self.sigma2 or float(solution.residual_squares[0]) / self.degrees
            return solution, sigma2, cables.log_det
        sigma2 = self.sigma2 or float(solve(cables, self.columns, kappa2).residual_squares[0]) / self.degrees
        for _ in range(1 if self.sigma2 else MOST_REPETITIONS):
            pieces = self.pieces.in_units_of(sigma2)
            solution = solve(cables + pieces, self.columns, kappa2)
            squares, trace = _part_of(pieces, solution, len(self.columns), kappa2)
            better = (float(solution.residual_squares[0]) - squares) / (self.degrees + trace)
            if self.sigma2 or not better > 0 or abs(better / sigma2 - 1) < 1e-12:
                break
            sigma2 = better
        return solution, sigma2, (cables + pieces).log_det

    def _log_det_columns(self, solution):
        """ln|H|; by ML only of the columns with a prior."""
        if self.restricted:
            return solution.log_det
        # |H| = |H_rr| / |(H^-1)_ff| for the free columns f and those with a prior r
        free = self.columns.free
        return solution.log_det + np.linalg.slogdet(solution.inverse[:, :free, :free])[1]

    def _taken_off(self, solution):
        """Covariance / sigma^2 of what is taken off the readings; by ML the free columns count as known."""
        inverse, free = solution.inverse[0], self.columns.free
        if self.restricted:
            return inverse
        known = np.linalg.solve(inverse[:free, :free], inverse[:free])
        return inverse - inverse[:, :free] @ known

    def _gradient(self, theta, weighed, solution, sigma2):
        # shifts and H are those of |kappa|
        l11, l21, l22, rho, kappa = *theta[:4], abs(theta[4])
        slopes = VarianceSlopes.zero()
        taken_off = Padded.of(self._taken_off(solution), len(self.columns), kappa, self.days)
        for each in weighed:
            slopes = slopes + slopes_of(each, self.columns, solution.values[0], taken_off, kappa, sigma2)
        by_day = slopes.alone * kappa + self._slope_of_shared_days(solution, taken_off, kappa, sigma2)
        return 2 * np.array(
            [
                slopes.c00 * l11 + slopes.c01 * l21,
                slopes.c01 * l11 + slopes.c11 * l21,
                slopes.c11 * l22,
                slopes.wander * rho,
                by_day * np.copysign(1.0, theta[4]),
            ]
        )

    def _slope_of_shared_days(self, solution, taken_off, kappa, sigma2):
        """kappa d/d kappa^2 of the shared days: [K - tr C_ss - s's / sigma^2] / kappa."""
        if not self.days or abs(kappa) < 1e-8:
            return 0.0
        shift = solution.values[0][len(self.columns) :]
        known = self._taken_off(solution).diagonal()[len(self.columns) :]
        return (self.days - known.sum() - shift @ shift / sigma2) / kappa
