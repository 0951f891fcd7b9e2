"""Short words for what a cell shows."""

from inspections.workbooks.sheet import CellKind


def number(text):
    return text, CellKind.NUMBER


def day(text):
    return text, CellKind.DAY


def month(text):
    return text, CellKind.MONTH


def clock(text):
    return text, CellKind.TIME


def error(text):
    return text, CellKind.ERROR


def yes_no(text):
    return text, CellKind.YES_NO


def as_pair(cell):
    """(text, kind) of a cell; a text alone is TEXT, or empty."""
    if isinstance(cell, tuple):
        return cell
    return cell, CellKind.TEXT if cell else CellKind.EMPTY
