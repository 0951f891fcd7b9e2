"""Geometry of the drawings: numbers in, points out. Templates draw the SVG and make the words.

All points are in the units of each drawing's view box, y downwards.
"""

from ..pages.mat.year_chart import NOT_CONFIRMED, EventToDraw, YearStrip, year_strip
from ..pages.segment.loss_chart import LossChart, ReadingToDraw, TrendToDraw, line_of, loss_chart
from ..trend.charts import DayChart, LengthChart, day_chart, length_chart
from ..workshop.mat_chart import ROW, TIGHT_ROW, MatDrawing, PositionToDraw, mat_drawing

__all__ = [
    "NOT_CONFIRMED",
    "ROW",
    "TIGHT_ROW",
    "DayChart",
    "EventToDraw",
    "LengthChart",
    "LossChart",
    "MatDrawing",
    "PositionToDraw",
    "ReadingToDraw",
    "TrendToDraw",
    "YearStrip",
    "day_chart",
    "length_chart",
    "line_of",
    "loss_chart",
    "mat_drawing",
    "year_strip",
]
