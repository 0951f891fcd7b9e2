"""Share of cables over the limit by age: as observed with its band, by the Weibull life, and where watching ended."""

from dataclasses import dataclass

import numpy as np

from ..axes import Frame, placed, round_ticks

FRAME = Frame(width=640, height=330, left=48, right=630, top=28, bottom=270)
MOST_AGE_TICKS, MOST_SHARE_TICKS, LEAST_SHARE_STEP = 8, 5, 0.01
# beyond what was watched, so that its end can be seen
BEYOND = 1.12
# of shares: what lies higher is put on the edge
ROOM = 1.15


@dataclass(frozen=True)
class LifeChart:
    """Paths; '' where there is nothing to draw. `modelled`: as the trend says, with the edges of its band. `bound`: at
    most so many are over. `end_x`: no cable was watched beyond. `limit_x`: today's limit, None where there is none in
    sight. `risk_y`: the accepted share."""

    band: str
    least: str
    most: str
    weibull: str
    bound: str
    modelled: str
    modelled_edges: str
    end_x: float
    limit_x: float | None
    risk_y: float
    age_ticks: tuple[tuple[float, float], ...]
    share_ticks: tuple[tuple[float, float], ...]
    frame: Frame = FRAME

    @property
    def limit_word_at_left(self):
        """The word of the limit stands at the left of its line where there is no room at the right."""
        return self.limit_x is not None and self.limit_x > (self.frame.left + self.frame.right) / 2


def life_chart(group, risk, modelled=None):
    """LifeChart of a Group with lives, with its ModelledCurve where there is one; None where nothing was watched."""
    life = group.life
    if life.bound is None or life.watched_until <= 0:
        return None
    last = max(life.watched_until * BEYOND, group.limit if group.limit < 2 * life.watched_until else 0)
    grid = np.linspace(0, life.watched_until, 120)
    bound = None if life.is_settled else np.array([life.bound.share_over(age) for age in grid])
    observed = _highest(life) if life.is_settled else float(bound.max())
    highest = min(1.0, ROOM * max(risk, observed, float(modelled.share.max()) if modelled else 0.0))

    def x(age):
        return FRAME.across(np.asarray(age) / last)

    def y(share):
        return FRAME.up(np.asarray(share) / highest)

    curve = life.curve
    return LifeChart(
        band=_band(x, y, curve) if curve is not None and not np.isnan(curve.low).any() else "",
        least=_steps(x(curve.age), y(curve.least)) if curve is not None else "",
        most=_steps(x(curve.age), y(curve.most)) if curve is not None else "",
        weibull=_line(x(grid), y(life.weibull.share_over(grid))) if life.weibull else "",
        bound="" if bound is None else _line(x(grid), y(bound)),
        modelled=_line(x(modelled.age), y(modelled.share)) if modelled else "",
        modelled_edges="".join(_line(x(modelled.age), y(e)) for e in (modelled.low, modelled.high)) if modelled else "",
        end_x=float(x(life.watched_until)),
        limit_x=float(x(group.limit)) if 0 < group.limit <= last else None,
        risk_y=float(y(risk)),
        age_ticks=placed(x, round_ticks(0, last, most=MOST_AGE_TICKS, least_step=0.5)),
        share_ticks=placed(y, round_ticks(0, highest, most=MOST_SHARE_TICKS, least_step=LEAST_SHARE_STEP)),
    )


def _highest(life):
    known = [life.curve.most, life.curve.high[~np.isnan(life.curve.high)]]
    return float(np.concatenate(known).max())


def _line(x, y):
    return "M" + "L".join(f"{a} {b}" for a, b in zip(x.tolist(), y.tolist(), strict=True))


def _steps(x, y):
    """A line that stays until the next age, and then goes there."""
    return f"M{x[0]} {y[0]}" + "".join(f"H{a}V{b}" for a, b in zip(x[1:].tolist(), y[1:].tolist(), strict=True))


def _band(x, y, curve):
    there = zip(x(curve.age).tolist(), y(curve.high).tolist(), strict=True)
    back = zip(x(curve.age[::-1]).tolist(), y(curve.low[::-1]).tolist(), strict=True)
    return "M" + "L".join(f"{a} {b}" for a, b in (*there, *back)) + "z"
