"""Share of cables over the limit by age: as observed with its band, by the Weibull life, and where watching ended."""

from dataclasses import dataclass

import numpy as np

from ..axes import Frame, placed, round_ticks

FRAME = Frame(width=640, height=330, left=48, right=630, top=28, bottom=270)
MOST_AGE_TICKS, MOST_SHARE_TICKS, LEAST_STEP_PERCENT = 8, 5, 1
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
    percent_ticks: tuple[tuple[float, float], ...]
    frame: Frame = FRAME

    @property
    def limit_word_at_left(self):
        """The word of the limit stands at the left of its line where there is no room at the right."""
        return self.limit_x is not None and self.limit_x > (self.frame.left + self.frame.right) / 2


def life_chart(group, risk, modelled=None):
    """LifeChart of a Group: the observed curve with the Weibull life, or with a ModelledCurve in its place. None where
    nothing was watched."""
    life = group.life
    if life.watched_until <= 0 or (modelled is None and life.bound is None):
        return None
    last = max(life.watched_until * BEYOND, group.limit if group.limit < 2 * life.watched_until else 0)
    grid = np.linspace(0, life.watched_until, 120)
    bound = None
    if modelled is None and not life.is_settled:
        bound = np.array([life.bound.share_over(age) for age in grid])
    shown = modelled and _until(last, modelled)
    highest = min(1.0, ROOM * max(risk, *_highest(life, bound, shown)))

    def x(age):
        return FRAME.across(np.asarray(age) / last)

    def y(share):
        return FRAME.up(np.minimum(np.asarray(share) / highest, 1.0))

    curve = life.curve
    return LifeChart(
        band=_band(x, y, curve) if curve is not None and not np.isnan(curve.low).any() else "",
        least=_steps(x(curve.age), y(curve.least)) if curve is not None else "",
        most=_steps(x(curve.age), y(curve.most)) if curve is not None else "",
        weibull=_line(x(grid), y(life.weibull.share_over(grid))) if life.weibull and not modelled else "",
        bound="" if bound is None else _line(x(grid), y(bound)),
        modelled=_line(*(each(part) for each, part in zip((x, y), shown[:2], strict=True))) if shown else "",
        modelled_edges="".join(_line(x(shown[0]), y(edge)) for edge in shown[2:]) if shown else "",
        end_x=float(x(life.watched_until)),
        limit_x=float(x(group.limit)) if 0 < group.limit <= last else None,
        risk_y=float(y(risk)),
        age_ticks=placed(x, round_ticks(0, last, most=MOST_AGE_TICKS, least_step=0.5)),
        percent_ticks=placed(
            lambda percent: y(percent / 100),
            round_ticks(0, 100 * highest, most=MOST_SHARE_TICKS, least_step=LEAST_STEP_PERCENT),
        ),
    )


def _until(last, modelled):
    """(ages, share over, low, high) of a ModelledCurve up to an age."""
    seen = modelled.age <= last
    return tuple(part[seen] for part in (modelled.age, modelled.share, modelled.low, modelled.high))


def _highest(life, bound, modelled):
    """The highest share of each that is drawn."""
    curve = life.curve
    observed = () if curve is None else (curve.most, curve.high[~np.isnan(curve.high)])
    drawn = (*observed, *(() if bound is None else (bound,)), *(modelled[1:] if modelled else ()))
    return [float(shares.max()) for shares in drawn if len(shares)]


def _line(x, y):
    return "M" + "L".join(f"{a} {b}" for a, b in zip(x.tolist(), y.tolist(), strict=True))


def _steps(x, y):
    """A line that stays until the next age, and then goes there."""
    return f"M{x[0]} {y[0]}" + "".join(f"H{a}V{b}" for a, b in zip(x[1:].tolist(), y[1:].tolist(), strict=True))


def _band(x, y, curve):
    there = zip(x(curve.age).tolist(), y(curve.high).tolist(), strict=True)
    back = zip(x(curve.age[::-1]).tolist(), y(curve.low[::-1]).tolist(), strict=True)
    return "M" + "L".join(f"{a} {b}" for a, b in (*there, *back)) + "z"
