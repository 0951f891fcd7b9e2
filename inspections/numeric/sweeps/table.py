"""Tables of frequency and dB, saved as CSV: `;`, `,` or a tab between the cells, decimal commas where regional."""

import re

import numpy as np

from .lines import MOST_POINTS
from .number_words import NumberWords
from .points import in_mhz, sweep_of
from .records import SweepRefused, short
from .table_head import cells_of, read_head, separator_of_head, units_below

# whatever an analyser writes above the table is shorter
MOST_LINES_ABOVE = 300
_END = re.compile(r"end\b", re.IGNORECASE)
LONGEST_NAME = 30
SAVE_ONE_TABLE = "Save one table of one cable."
# no signal and noise are on both sides of it
NONE_DB = 0.1


def head_place(lines):
    """Which of the lines names the columns of a table; None: none does."""
    return next((place for place, line in enumerate(lines[:MOST_LINES_ABOVE]) if separator_of_head(line)), None)


def read_table(lines, comments):
    """The Sweep of a table."""
    place = head_place(lines)
    separator = separator_of_head(lines[place])
    units = units_below(lines[place:], separator)
    head = read_head(lines[place], separator, units)
    numbers = NumberWords()
    rows = [(line, _row(line, head, numbers)) for line in _data(lines[place + 1 + bool(units) :], head)]
    if not rows:
        raise SweepRefused("There are no rows of numbers below the names of the columns.", "Save the sweep again.")
    read_lines, values = [line for line, _row in rows], np.array([row for _line, row in rows])
    warnings = list(numbers.warnings_of_exponents())
    traces = {
        name: None if column is None else _loss_db(column, values[:, number], head.is_named, warnings)
        for number, (name, column) in enumerate(_traces(head).items(), 1)
    }
    return sweep_of(
        "CSV",
        in_mhz(values[:, 0], head.mhz_per_unit),
        read_lines,
        comments=comments,
        warnings=warnings,
        is_named=head.is_named,
        **traces,
    )


def _traces(head):
    return {"loss_db": head.transmission, "return_loss_db": head.reflection}


def _data(lines, head):
    """Lines of the table, up to a line that ends it."""
    ended, points = False, 0
    for line in lines:
        if _END.match(line.content):
            ended = True
        elif line.content.startswith("#"):
            continue
        elif ended:
            line.refuse("this stands below the end of the table.", SAVE_ONE_TABLE)
        else:
            points += 1
            if points > MOST_POINTS:
                line.refuse(f"the sweep has more than {MOST_POINTS:,} points.", "Save fewer points.")
            yield line


def _row(line, head, numbers):
    """Frequency and dB of a line; 0 where the table has no such column."""
    cells = cells_of(line.content, head.separator)
    if len(cells) != head.cells:
        counted = "1 cell" if len(cells) == 1 else f"{len(cells)} cells"
        line.refuse(
            f"{counted} instead of {head.cells}, as in the line that names the columns.",
            f"Look whether the file is cut off, or has a decimal comma where a comma separates. {SAVE_ONE_TABLE}",
        )
    places = [head.frequency, *(column and column.place for column in _traces(head).values())]
    wanted = [place for place in places if place is not None]
    read = dict(zip(wanted, numbers.read(line, [cells[place] for place in wanted]), strict=True))
    return [0.0 if place is None else read[place] for place in places]


def _loss_db(column, values, is_named, warnings):
    """The column as a loss: positive, whichever sign the analyser shows."""
    is_negative = values.min() < -NONE_DB and values.max() <= NONE_DB
    if column.sign > 0 and is_negative:
        name = short(column.name, LONGEST_NAME)
        warnings.append(f"Losses in column {name} are written as negative numbers. They were read as losses.")
        return -values
    if not is_named and not is_negative:
        return values
    return column.sign * values
