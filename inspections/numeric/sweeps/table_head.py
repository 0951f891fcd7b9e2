"""The head of a table of frequency and dB: which of its columns is which."""

import csv
import re
import unicodedata
from dataclasses import dataclass
from itertools import zip_longest

from .option_line import MHZ_PER_UNIT

SEPARATORS = (";", "\t", ",")
_FREQUENCY = re.compile(r"fre[qck]|(?<![a-z])f(?![a-z])|stimulus")
_UNIT = re.compile(r"(?<![a-z])([kmg]?hz)(?![a-z])")
_DB = re.compile(r"(?<![a-z])db(?![a-z])|log ?mag")
_S_WITH_COMMA = re.compile(r"(?i)(s\s*\(\s*[12])\s*,\s*([12]\s*\))")
_S = re.compile(r"s[ _(]*([12])[ ,_]*([12])")
_REFLECTION = re.compile(r"return|reflect|reflexi|ruckfluss|rucklauf|retour|retorno|ritorno")
_LOSS = re.compile(r"loss|attenuat|dampf|perte|perdida|perdita|affaibl|verlust|verlies|demping|dampning")
_TRANSMISSION = re.compile(r"transmi|through|thru|gain")
WRITE_HEAD = (
    "Write a first line that names the columns: Frequency (MHz),S21 (dB) for a sweep through the cable, "
    "Frequency (MHz),Return loss (dB) for one port."
)


@dataclass(frozen=True)
class Column:
    """Where the dB of one trace stand; `sign` brings them to a loss, +1 where the column is called one."""

    place: int
    sign: int
    name: str


@dataclass(frozen=True)
class TableHead:
    separator: str
    cells: int
    frequency: int
    mhz_per_unit: float
    transmission: Column | None
    reflection: Column | None
    is_named: bool


def cells_of(text, separator):
    """The cells of a line, without blanks, and without empty ones behind the last."""
    cells = [cell.strip() for cell in next(csv.reader([text], delimiter=separator, skipinitialspace=True))]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def separator_of_head(line):
    """What stands between the columns that a line names, one of them the frequency; None: it names none."""
    for separator in SEPARATORS:
        names = [plain(cell) for cell in cells_of(_names(line), separator)]
        if len(names) > 1 and any(_is_frequency(name) for name in names):
            # behind #, an option line of Touchstone may hold the unit alone
            return separator if not line.content.startswith("#") or any(map(_FREQUENCY.search, names)) else None
    return None


def _names(line):
    """Without the mark of a comment, and S(2,1) without the comma that would separate."""
    return _S_WITH_COMMA.sub(r"\1\2", line.content.lstrip("# "))


def plain(cell):
    """In small letters, without accents, quotes and blanks around it."""
    letters = unicodedata.normalize("NFKD", cell.replace("ß", "ss")).lower()
    return "".join(letter for letter in letters if not unicodedata.combining(letter)).strip(" \"'\t")


def _is_frequency(name):
    return bool(_FREQUENCY.search(name) or _UNIT.fullmatch(name)) and not _DB.search(name)


def units_below(lines, separator):
    """The cells of a line that holds the units of the columns that the line above it names; none: it holds none."""
    if len(lines) < 2:
        return []
    cells = cells_of(lines[1].content.lstrip("# "), separator)
    units = [plain(cell).strip("()[]") for cell in cells]
    is_theirs = len(cells) == len(cells_of(_names(lines[0]), separator)) and any(map(_UNIT.fullmatch, units))
    return units if is_theirs else []


def read_head(line, separator, units=()):
    """The TableHead of the line that names the columns; `units` of them, where they stand below."""
    cells = cells_of(_names(line), separator)
    names = [plain(f"{cell} {unit}") for cell, unit in zip_longest(cells, units, fillvalue="")]
    place = next(place for place, cell in enumerate(cells) if _is_frequency(plain(cell)))
    unit = _UNIT.search(names[place])
    if unit is None:
        line.refuse("the column of frequency has no unit of Hz, kHz, MHz or GHz.", WRITE_HEAD)
    traces = [(place, name) for place, name in enumerate(names) if _DB.search(name)]
    if not traces:
        line.refuse("no column is in dB.", f"Save the sweep as log magnitude, in dB. {WRITE_HEAD}")
    transmission, reflection, is_named = _traces(line, traces, cells)
    scale = MHZ_PER_UNIT[unit[1].upper()]
    return TableHead(separator, len(cells), place, scale, transmission, reflection, is_named)


def _traces(line, traces, cells):
    """(the column of transmission, that of reflection, whether the head says which is which)."""
    kinds = {}
    for place, name in traces:
        kind, sign = _kind(name)
        kinds.setdefault(kind, []).append(Column(place, sign, cells[place]))
    for kind in ("transmission", "reflection"):
        if len(kinds.get(kind, ())) > 1:
            line.refuse(f"two columns are of {kind}.", "Keep the column of one cable, and delete the others.")
    named = [kinds.get(kind, [None])[0] for kind in ("transmission", "reflection")]
    if any(named):
        return *named, True
    others = kinds.get("unnamed", ())
    if len(others) != 1:
        line.refuse("no column in dB says that it is S21, S11 or a loss.", WRITE_HEAD)
    return others[0], others[0], False


def _kind(name):
    if parameter := _S.search(name):
        return {"21": "transmission", "11": "reflection"}.get(parameter[1] + parameter[2], "other"), -1
    is_loss = bool(_LOSS.search(name))
    if _REFLECTION.search(name):
        return "reflection", 1 if is_loss or "fluss" in name else -1
    if is_loss:
        return "transmission", 1
    return ("transmission" if _TRANSMISSION.search(name) else "unnamed"), -1
