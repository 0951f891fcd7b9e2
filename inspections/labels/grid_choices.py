"""Sheets of labels, by their measures: what a ruler finds on them, and nobody's name or number.

The measures of the ready ones are common practice, no source: those of sheets that are sold everywhere. Whoever has
another sheet writes what the ruler says.
"""

from dataclasses import dataclass

A4, LETTER = "A4", "Letter"
# ISO 216 for A4; 8.5 by 11 inches of 25.4 mm
PAPERS_MM = {A4: (210.0, 297.0), LETTER: (215.9, 279.4)}
# as far as a ruler can be trusted
RULER_MM = 0.5


@dataclass(frozen=True)
class LabelGrid:
    """Labels side by side and one below the other, all alike; lengths in mm from the paper's upper left corner."""

    paper: str
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    across_mm: float = 0.0
    down_mm: float = 0.0

    @property
    def paper_mm(self):
        """(width, height) of the paper."""
        return PAPERS_MM[self.paper]

    @property
    def size(self):
        """How many labels are on a sheet."""
        return self.columns * self.rows

    @property
    def beyond(self):
        """By how many mm the grid is (wider, higher) than what the paper holds; not above 0 where it fits."""
        across = self.left_mm + self.columns * self.width_mm + (self.columns - 1) * self.across_mm
        down = self.top_mm + self.rows * self.height_mm + (self.rows - 1) * self.down_mm
        return across - self.paper_mm[0], down - self.paper_mm[1]

    def corner(self, place):
        """(x, y) of the upper left corner of a label in mm; `place` counts from 0, along the rows."""
        row, column = divmod(place, self.columns)
        return (
            self.left_mm + column * (self.width_mm + self.across_mm),
            self.top_mm + row * (self.height_mm + self.down_mm),
        )

    @property
    def in_words(self):
        size = f"{self.width_mm:g} × {self.height_mm:g} mm"
        return f"{self.paper}, {self.size} a sheet: {self.columns} across, {self.rows} down, each {size}"


READY = {
    "a4-8": LabelGrid(A4, 2, 4, 99.1, 67.7, 4.65, 13.1, 2.5),
    "a4-21": LabelGrid(A4, 3, 7, 63.5, 38.1, 7.25, 15.15, 2.5),
    "a4-24": LabelGrid(A4, 3, 8, 70, 36, 0, 4.5),
    "a4-65": LabelGrid(A4, 5, 13, 38.1, 21.2, 4.75, 10.7, 2.5),
    "letter-10": LabelGrid(LETTER, 2, 5, 101.6, 50.8, 4.0, 12.7, 4.7),
    "letter-30": LabelGrid(LETTER, 3, 10, 66.7, 25.4, 4.8, 12.7, 3.1),
    "letter-80": LabelGrid(LETTER, 4, 20, 44.45, 12.7, 7.6, 12.7, 7.6),
}
