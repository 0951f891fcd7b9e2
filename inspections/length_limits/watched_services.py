"""How far cables of a length were watched: what a limit of that length rests on beside the trend."""

from dataclasses import dataclass

import numpy as np

from ..numeric.lives.records import Lives

# of about that length; our choice
ABOUT_M = 0.25
# lengths that are one when they are written with two places
SAME_M = 0.005


@dataclass(frozen=True)
class Watched:
    """Lives, and the length of each one's cable in metres."""

    length_m: np.ndarray
    lives: Lives

    def of(self, length_m, age):
        """What is known of cables of a length by a limit of that age: see PositionLimit.

        A longer cable loses more, so that one that was watched tells of the shorter ones, too.
        """
        as_long = self.lives.take(self.length_m >= length_m - SAME_M)
        return {
            "read": int((np.abs(self.length_m - length_m) <= ABOUT_M + SAME_M).sum()),
            "seen": 0 if np.isnan(age) else int(as_long.watched_at([age])[0]),
            "watched_until": as_long.watched_until,
        }
