"""Loss over frequency: one sweep over earlier ones of its cable."""

from dataclasses import dataclass

import numpy as np

from fleet.figures import short_day

from ..axes import Frame, placed, round_ticks

FRAME = Frame(width=1100, height=320, left=56, right=960, top=24, bottom=280)
MOST_TICKS_DB, MOST_TICKS_MHZ = 6, 10
# more points than that a picture of this width does not show
MOST_COLUMNS = 300
# rows of the table below the picture
MOST_ROWS = 21
LEAST_TOP_DB = 1.0
LABEL_STEP = 15


@dataclass(frozen=True)
class Line:
    """A curve as a path; `style`: which kind of line tells it from the others. `label_y`: where its name stands."""

    name: str
    path: str
    style: str
    label_y: float


@dataclass(frozen=True)
class SweepChart:
    """`ticks`: (y, dB); `frequencies`: (x, MHz); `limit`: (y, dB) and `reference_x`, None where not drawn."""

    lines: tuple[Line, ...]
    ticks: tuple[tuple[float, float], ...]
    frequencies: tuple[tuple[float, float], ...]
    limit: tuple[float, float] | None
    reference_x: float | None
    frame: Frame = FRAME


STYLES = ("now", "before-1", "before-2", "before-3", "before-4")


def sweep_chart(curves, *, limit_db=None, reference_mhz=None):
    """The newest curve first; None where none has two points. `limit_db` None: the numbers are no losses."""
    curves = [curve for curve in curves if len(curve.frequency_mhz) > 1]
    if not curves:
        return None
    low = min(curve.frequency_mhz[0] for curve in curves)
    high = max(curve.frequency_mhz[-1] for curve in curves)
    losses = [loss for curve in curves for loss in (curve.loss_db.min(), curve.loss_db.max())]
    top_db = max(LEAST_TOP_DB, *losses, *([limit_db] if limit_db is not None else [])) * 1.08
    bottom_db = min(0.0, *losses)

    def x(frequency_mhz):
        return FRAME.across((frequency_mhz - low) / (high - low))

    def y(loss_db):
        return FRAME.up((loss_db - bottom_db) / (top_db - bottom_db))

    ends = _apart([float(y(curve.loss_db[-1])) for curve in curves])
    is_within = reference_mhz is not None and low <= reference_mhz <= high
    return SweepChart(
        lines=tuple(
            Line(f"{short_day(curve.sweep.measured_on)}", _path(curve, x, y), style, end)
            for curve, style, end in zip(curves, STYLES, ends, strict=False)
        ),
        ticks=placed(y, round_ticks(bottom_db, top_db, most=MOST_TICKS_DB, least_step=0.1)),
        frequencies=placed(x, _frequencies(low, high)),
        limit=None if limit_db is None else (float(y(limit_db)), limit_db),
        reference_x=float(x(reference_mhz)) if is_within else None,
    )


def sweep_rows(curves):
    """(MHz, [dB of each curve, None where it does not reach]) at some frequencies of the first curve."""
    first = curves[0].frequency_mhz
    chosen = first[np.unique(np.linspace(0, len(first) - 1, min(len(first), MOST_ROWS)).round().astype(int))]
    return [(float(frequency), [_at(curve, frequency) for curve in curves]) for frequency in chosen]


def _at(curve, frequency_mhz):
    if not curve.frequency_mhz[0] <= frequency_mhz <= curve.frequency_mhz[-1]:
        return None
    return float(np.interp(frequency_mhz, curve.frequency_mhz, curve.loss_db))


def _path(curve, x, y):
    """Of each column of the picture its lowest and highest point, so that no ripple and no dip is lost."""
    chosen = _shown_points(curve.loss_db)
    points = zip(x(curve.frequency_mhz[chosen]), y(curve.loss_db[chosen]), strict=True)
    return "M" + "L".join(f"{place} {height}" for place, height in points)


def _shown_points(loss_db):
    if len(loss_db) <= 2 * MOST_COLUMNS:
        return np.arange(len(loss_db))
    columns = np.array_split(np.arange(len(loss_db)), MOST_COLUMNS)
    ends = [end for column in columns for end in (column[loss_db[column].argmin()], column[loss_db[column].argmax()])]
    return np.unique([0, *ends, len(loss_db) - 1])


def _frequencies(low, high):
    """Round frequencies within the span; the step is that of the span, as a sweep may be narrow and high up."""
    steps = (digit * 10.0**power for power in range(-3, 7) for digit in (1, 2, 5))
    step = next(step for step in steps if (high - low) / step <= MOST_TICKS_MHZ)
    first, last = int(np.ceil(low / step)), int(np.floor(high / step))
    return [round(step * number, 6) for number in range(first, last + 1)]


def _apart(heights):
    """Heights of labels, pushed apart where they would lie on each other."""
    placed = {}
    last = -np.inf
    for number in np.argsort(heights):
        last = placed[int(number)] = max(heights[number], last + LABEL_STEP)
    return [placed[number] for number in range(len(heights))]
