"""How many more cables wear and chance will ask for than those that have a date."""

from dataclasses import dataclass

from ..assessment.chances_ahead import chances_over_by
from ..numeric.counts_by_chance import count_interval

# nine times in ten
WITHIN = 0.9


@dataclass(frozen=True)
class MoreByChance:
    """`cables`: without a date in the twelve months, and with a trend; of these `least` to `most` will be over by then,
    nine times in ten. `unknown`: without a trend, so nobody knows."""

    cables: int
    unknown: int
    least: int
    most: int


def more_by_chance(plan, fitted):
    """MoreByChance of the cables of a Plan that it does not change; None where the pool has no trend.

    `fitted`: how many cables are assessed in all.
    """
    chances = chances_over_by(plan.until, plan.on)
    if not chances:
        return None
    others = [chance for segment, chance in chances.items() if segment not in plan.segments]
    return MoreByChance(len(others), fitted - len(plan.segments) - len(others), *count_interval(others, WITHIN))
