"""A line of the price list is of one kind of cable, of any length of a type, or of the set of a design; and once."""

from ..models.stock import kind_of
from .files import PRICES


def check_prices(files):
    table = files.table(PRICES.file)
    if table is None:
        return
    for row, cable_type, length_m, design in list(table.rows("cable_type", "length_m", "design")):
        if design is not None and (cable_type is not None or length_m is not None):
            column = "cable_type" if cable_type is not None else "length_m"
            found = f"“{table.values[column][row]}” beside design {design}"
            table.refuse(files.errors, row, column, found, "an empty cell: design alone is the set")
        elif design is None and cable_type is None:
            table.refuse(files.errors, row, "cable_type", "an empty cell", "a cable_type, or a design for its set")
    _refuse_twice(files, table)


def _refuse_twice(files, table):
    """Lengths that differ by less than a millimetre are one; the same number twice is told of the key already."""
    first = {}
    for key, where in _lines(files, table):
        if key[1] is None:
            continue
        other, line = first.setdefault(kind_of(*key[:2]), (key, where))
        if other != key and isinstance(where, int):
            found, which = f"{key[1]:g} m of {key[0]}", f"line {table.lines[line]}" if isinstance(line, int) else line
            expected = f"each length once; {which}: {other[1]:g} m"
            table.refuse(files.errors, where, "length_m", found, expected)


def _lines(files, table):
    """(key, where it stands): what is stored first, then the rows of the file."""
    in_file = {key: row for row, key in table.keyed_rows()}
    stored = PRICES.stored_rows().values_list(*(column.path for column in PRICES.key))
    yield from ((key, "stored already") for key in stored if key not in in_file)
    yield from in_file.items()
