"""What the files hold, in words for whoever fills them: of each column made from its layout."""

from fleet.intake.kinds import AMOUNT, CODE, DAY, LINES, NUMBER, NUMBERS, SIGNED, WHOLE
from fleet.limits import Limit

from ..numeric.words import Verdict
from ..validators import NO_SIGNAL
from .sets import LOSS

HOLDS = {
    CODE: "A code or name.",
    LINES: "A text, of several lines if need be.",
    DAY: "A day, such as 2026-05-02.",
    NUMBER: "A number.",
    NUMBERS: "Numbers with a blank between, such as 0.5 1.0 1.5.",
    AMOUNT: "An amount, such as 12.50.",
    WHOLE: "A whole number.",
    SIGNED: "A whole number, such as 4 or -4.",
    LOSS: f"A number of dB, such as 1.31, or one of: {NO_SIGNAL}, {Verdict.WITHIN.value}, {Verdict.OVER.value}.",
}
ROWS = {
    "depots.csv": "One row a place where mats are kept.",
    "cable_types.csv": "One row a kind of cable that segments are cut from.",
    "mat_designs.csv": "One row a build that mats share.",
    "positions.csv": "One row a place for a cable in a build. Position 1 is nearest the feed end.",
    "prices.csv": "One row a cable of one type and length, or with a design alone a whole set for that design.",
    "mats.csv": "One row a mat.",
    "segments.csv": "One row a cable, fitted or on the shelf.",
    "fittings.csv": "One row a cable in a mat, for as long as it is there.",
    "stock.csv": "One row a change of what lies on the shelf.",
    "series.csv": "One row an event that comes again every so many weeks.",
    "events.csv": "One row an event.",
    "usage.csv": "One row a mat at an event.",
    "faults.csv": "One row something that was seen on a mat. Faults of a day are numbered 1, 2 and so on.",
    "notes.csv": "One row a note about a mat, a segment or an event.",
    "instruments.csv": "One row an instrument that cables are measured with.",
    "measurements.csv": "One row a reading of a cable. Readings of a day are numbered 1, 2 and so on.",
    "reference_pieces.csv": "One row what was agreed of a kept cable, anew each time it is agreed.",
    "reference_readings.csv": "One row a reading of such a kept cable.",
    "bench_days.csv": "One row a day with one instrument that somebody looked at.",
    "work_orders.csv": "One row a cable to change in a work order.",
    "policy.csv": "One row a limit or setting, of the pool, or of a design, a position of it, or a depot.",
}


def column_words(column):
    """One to four sentences for whoever fills the column."""
    parts = [f"One of: {', '.join(column.words)}." if column.words else HOLDS.get(column.kind, "A text.")]
    if column.refers_to:
        parts = [f"As in the sheet {column.refers_to.removesuffix('.csv')}."]
    if isinstance(column.limit, Limit) and column.kind is not LOSS:
        parts.append(_usual(column.limit))
    if column.past:
        parts.append("Not after today.")
    if column.default not in (None, "", []):
        parts.append(f"Left empty: {column.write(column.default)}.")
    return " ".join(parts)


def _usual(limit):
    unit = f" {limit.unit}" if limit.unit else ""
    return f"Usually {limit.unusual_below:.6g} to {limit.unusual_above:,.6g}{unit}."
