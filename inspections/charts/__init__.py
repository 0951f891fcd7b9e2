"""Geometry of the drawings: numbers in, points out. Templates draw the SVG and make the words.

All points are in the units of each drawing's view box, y downwards.
"""

from .losses import LossChart, ReadingToDraw, TrendToDraw, line_of, loss_chart
from .mats import ROW, TIGHT_ROW, MatDrawing, PositionToDraw, mat_drawing

__all__ = [
    "ROW",
    "TIGHT_ROW",
    "LossChart",
    "MatDrawing",
    "PositionToDraw",
    "ReadingToDraw",
    "TrendToDraw",
    "line_of",
    "loss_chart",
    "mat_drawing",
]
