"""What all cables of a world share: the mean lines, and the shift of each bench day, as its readings tell them."""

import numpy as np

TINY = 1e-12


class SharedTerms:
    """Normal equations of the mean lines (terms) of each world, and of the shifts of its benches, a shift a check.

    `mean` (worlds, benches, terms + checks): how far the mean lines lie from those of the fit, and the shifts;
    `covariance` (..., terms + checks, terms + checks). The shifts of two benches lean on each other by the mean lines
    alone, so that they are solved bench by bench (block elimination).
    """

    def __init__(self, known, worlds, benches, checks, day2):
        self.terms, self.checks, self.known = len(known), 0, np.linalg.inv(known)
        self.of_lines = np.tile(self.known, (worlds, 1, 1))
        self.lines_told = np.zeros((worlds, self.terms))
        self._cross = np.zeros((worlds, benches, self.terms, checks))
        self._of_shifts = np.tile(np.eye(checks) / max(day2, TINY), (worlds, benches, 1, 1))
        self._shifts_told = np.zeros((worlds, benches, checks))
        self.solve()

    def hear(self, world, moves, left, weight):
        """Readings that lie `left` above what was expected and move with the mean lines alone, of a weight each."""
        moves = moves[: self.terms].T
        np.add.at(self.of_lines, world, (weight[:, None] * moves)[:, :, None] * moves[:, None, :])
        np.add.at(self.lines_told, world, (weight * left)[:, None] * moves)

    def check(self, sums):
        """Weighed products (worlds, benches, columns, columns) of what the readings of a check move with (the mean
        lines, the shifts so far and this one), and of what is left of them."""
        lines, shifts = slice(self.terms), slice(self.terms, -1)
        self.checks += 1
        self.of_lines += sums[..., lines, lines].sum(axis=1)
        self.lines_told += sums[..., lines, -1].sum(axis=1)
        self._cross[..., : self.checks] += sums[..., lines, shifts]
        self._of_shifts[..., : self.checks, : self.checks] += sums[..., shifts, shifts]
        self._shifts_told[..., : self.checks] += sums[..., shifts, -1]
        self.solve()

    def solve(self):
        each, through = self._eliminated()
        cross, told = self._cross[..., : self.checks], self._shifts_told[..., : self.checks]
        of_lines = np.linalg.inv(self.of_lines - (through @ cross.swapaxes(-1, -2)).sum(axis=1))
        lines = np.einsum("wab,wb->wa", of_lines, self.lines_told - _times(through, told).sum(axis=1))
        across = -of_lines[:, None] @ through
        shifts = _times(each, told) - np.einsum("wgak,wa->wgk", through, lines)
        of_shifts = each - through.swapaxes(-1, -2) @ across
        benches = each.shape[1]
        self.mean = np.concatenate([np.repeat(lines[:, None], benches, axis=1), shifts], axis=-1)
        above = np.concatenate([np.repeat(of_lines[:, None], benches, axis=1), across], axis=-1)
        below = np.concatenate([across.swapaxes(-1, -2), of_shifts], axis=-1)
        self.covariance = np.concatenate([above, below], axis=-2)

    def forget_lines(self):
        """Of the mean lines no more is known than the fit knew; what is known of the shifts beside them stays."""
        _, through = self._eliminated()
        cross, told = self._cross[..., : self.checks], self._shifts_told[..., : self.checks]
        self.of_lines = self.known + (through @ cross.swapaxes(-1, -2)).sum(axis=1)
        self.lines_told = _times(through, told).sum(axis=1)
        self.solve()

    def _eliminated(self):
        """(covariance of the shifts where the mean lines are known, the cross part times it)."""
        each = np.linalg.inv(self._of_shifts[..., : self.checks, : self.checks])
        return each, self._cross[..., : self.checks] @ each


def _times(matrices, vectors):
    return np.einsum("...ab,...b->...a", matrices, vectors)
