"""What each column of a file holds, in words, made from its layout."""

from fleet.intake.kinds import AMOUNT, CODE, DAY, LINES, NUMBER, NUMBERS, SIGNED, WHOLE

from ..numeric.words import Verdict
from ..validators import NO_SIGNAL
from .sets import LOSS

HOLDS = {
    CODE: "A code or name.",
    LINES: "A text, of several lines if need be.",
    DAY: "A day, such as 2026-05-02.",
    NUMBER: "A number, such as 1.31.",
    NUMBERS: "Numbers with a blank between, such as 0.5 1.0 1.5.",
    AMOUNT: "An amount, such as 12.50.",
    WHOLE: "A whole number, such as 4.",
    SIGNED: "A whole number, such as 4 or -4.",
    LOSS: f"A number of dB, such as 1.31, or one of: {NO_SIGNAL}, {Verdict.WITHIN.value}, {Verdict.OVER.value}.",
}


def column_words(column):
    """One to three sentences for whoever fills the column."""
    parts = [f"One of: {', '.join(column.words)}." if column.words else HOLDS.get(column.kind, "A text.")]
    if column.refers_to:
        parts = [f"As in the sheet {column.refers_to.removesuffix('.csv')}."]
    if column.past:
        parts.append("Not after today.")
    if column.default not in (None, "", []):
        parts.append(f"Left empty: {column.write(column.default)}.")
    return " ".join(parts)
