"""Touchstone files of one or two ports, version 1 and 2: numbers in rows, for `matrices` to read.

Touchstone File Format Specification 1.1 (2002), 2.0 (2009) and 2.1 (2024).
"""

import re

import numpy as np

from .lines import MOST_POINTS
from .matrices import ONE_PORT, S21_FIRST, s_parameters
from .number_words import NumberWords
from .option_line import STANDARD_OHM, read_option
from .points import in_mhz, sweep_of
from .records import SweepRefused
from .touchstone_2 import read_version_2

NUMBERS_OF_NOISE = 5
COLUMNS_BY_NUMBERS = {1 + 2 * len(columns): columns for columns in (ONE_PORT, S21_FIRST)}
SAVE_TWO_PORTS = "Save the sweep again as S parameters of two ports (9 numbers a line) or of one (3 numbers)."
SAY_UNIT_AND_FORMAT = (
    "Find out the unit and format, and write them above the numbers as # MHz S DB R 50. A guess could be wrong by "
    "a factor of a thousand."
)
_COLUMN_NAMES = re.compile(r"S\(?([12])[, ]?([12])")
# beyond the rounding of a file's numbers
DIFFER_DB = 0.005


def read_touchstone(lines, comments):
    """The Sweep of a Touchstone file."""
    if lines[0].content.upper().startswith("[VERSION]"):
        return _read_version_2(lines, comments)
    return _read_version_1(lines, comments)


def _read_version_1(lines, comments):
    numbers = NumberWords()
    option, warnings, data = _option_and_data(lines)
    rows = _without_noise(rows_of(data, numbers))
    columns = _columns(rows)
    option.check_ports(2 if columns is S21_FIRST else 1)
    s = s_parameters(rows, columns, option)
    warnings += [*option.warnings, *numbers.warnings(), *_of_order(s, comments)]
    return _sweep("Touchstone 1", rows, s, option, comments, warnings)


def _option_and_data(lines):
    option, warnings, data = None, [], []
    for line in lines:
        if line.content.startswith("["):
            line.refuse(
                "this is a keyword of version 2, and the file does not begin with [Version].",
                "Write [Version] 2.0 above all other lines.",
            )
        elif not line.content.startswith("#"):
            if option is None:
                line.refuse("no line with # says unit and format of the numbers.", SAY_UNIT_AND_FORMAT)
            data.append(line)
        elif option is None:
            option = read_option(line)
        else:
            warnings.append(f"Line {line.number} is another line with #. Only the first one counts.")
    return option, warnings[:1], data


def rows_of(data, numbers):
    """[(line, numbers)] of lines that hold numbers."""
    if not data:
        raise SweepRefused("The file holds no lines of numbers.", "Save the sweep again after it has run once.")
    rows = []
    for line in data:
        rows.append((line, numbers.read(line, line.content.split())))
        if len(rows) > MOST_POINTS:
            line.refuse(f"the sweep has more than {MOST_POINTS:,} points.", "Save fewer points.")
    return rows


def _without_noise(rows):
    """Noise lines follow the data of two ports, have five numbers and begin no higher than the data end.

    frequency, noise figure in dB, magnitude and angle of a reflection, resistance: what is none of that is a line of
    data that was cut off.
    """
    if len(rows[0][1]) != 1 + 2 * len(S21_FIRST):
        return rows
    first = next((place for place, (_line, row) in enumerate(rows) if len(row) == NUMBERS_OF_NOISE), len(rows))
    data, noise = rows[:first], rows[first:]
    if noise and _is_noise(noise[0][1], max(row[0] for _line, row in data)):
        refuse_other_lengths(noise, NUMBERS_OF_NOISE)
        return data
    return rows


def _is_noise(row, last_frequency):
    frequency, figure_db, magnitude, _angle, resistance = row
    return frequency <= last_frequency and figure_db >= 0 and 0 <= magnitude <= 1 and resistance >= 0


def _columns(rows):
    line, first = rows[0]
    if len(first) not in COLUMNS_BY_NUMBERS:
        line.refuse(f"{_counted(len(first))} a frequency are neither one port nor two.", SAVE_TWO_PORTS)
    refuse_other_lengths(rows, len(first))
    return COLUMNS_BY_NUMBERS[len(first)]


def refuse_other_lengths(rows, wanted):
    """A shorter line is cut off, or goes on with the matrix of more ports than two."""
    for line, row in rows:
        if len(row) != wanted:
            line.refuse(
                f"{_counted(len(row))} instead of {wanted}. The file is cut off, or holds more than two ports.",
                SAVE_TWO_PORTS,
            )


def _counted(number):
    return f"{number} number{'' if number == 1 else 's'}"


def _of_order(s, comments):
    """A comment that names S12 before S21 contradicts the order of two ports in version 1, which is kept."""
    if s.shape[-1] != 2 or not any(_names_s12_first(comment) for comment in comments):
        return []
    differ_db = _differ_db(s)
    if differ_db < DIFFER_DB:
        return []
    differ = f"the two differ by up to {differ_db:.2f} dB" if np.isfinite(differ_db) else "one of them is zero"
    return [
        "A comment names S12 before S21, which is not the order of this kind of file. S21 was read as the first of "
        f"them; {differ}. Look which one the analyser shows."
    ]


def _names_s12_first(comment):
    names = ["".join(pair) for pair in _COLUMN_NAMES.findall(comment.upper())]
    return {"11", "12", "21"} <= set(names) and names.index("12") < names.index("21")


def _differ_db(s):
    with np.errstate(divide="ignore", invalid="ignore"):
        differences = np.abs(20 * np.log10(np.abs(s[:, 1, 0]) / np.abs(s[:, 0, 1])))
    return np.inf if np.isnan(differences).any() else differences.max()


def _read_version_2(lines, comments):
    head, data = read_version_2(lines)
    numbers = NumberWords()
    rows = rows_of(data, numbers)
    refuse_other_lengths(rows, 1 + 2 * len(head.columns))
    _refuse_other_count(rows, head.frequencies)
    s = s_parameters(rows, head.columns, head.option)
    warnings = [*head.option.warnings, *head.warnings, *numbers.warnings()]
    if not head.order_is_said:
        _refuse_if_order_matters(s)
        warnings.append("The file does not say in which order S21 and S12 stand. They are the same, so it is read.")
    return _sweep("Touchstone 2", rows, s, head.option, comments, warnings)


def _refuse_other_count(rows, said):
    if said is not None and len(rows) != said:
        raise SweepRefused(
            f"The file says that it holds {said:,} frequencies, and holds {len(rows):,}.",
            "It is cut off or was edited: save the sweep again.",
        )


def _refuse_if_order_matters(s):
    if _differ_db(s) >= DIFFER_DB and not np.array_equal(s[:, 1, 0], s[:, 0, 1]):
        raise SweepRefused(
            "The file does not say in which order S21 and S12 stand, and they differ.",
            "Add the line [Two-Port Data Order] 21_12 or 12_21, as the analyser's manual says.",
        )


def _sweep(kind, rows, s, option, comments, warnings):
    if any(ohm != STANDARD_OHM for ohm in option.reference_ohm):
        ohms = " and ".join(f"{ohm:g}" for ohm in option.reference_ohm)
        warnings.append(f"The file refers to {ohms} ohm. It was brought to 50 ohm, in which losses are kept.")
    return sweep_of(
        kind,
        in_mhz(np.array([numbers[0] for _line, numbers in rows]), option.mhz_per_unit),
        [line for line, _numbers in rows],
        s=s,
        comments=comments,
        warnings=warnings,
    )
