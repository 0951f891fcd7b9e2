"""The line of a Touchstone file that begins with # and says unit, format and reference of its numbers.

`# unit parameter format R n`: each may be missing, in any order but that n follows R; GHz S MA R 50 where nothing is
said (Touchstone File Format Specification 1.1 and 2.0, option line).
"""

import math
import re
from dataclasses import dataclass

from .lines import Line
from .number_words import NumberWords, quoted

MHZ_PER_UNIT = {"HZ": 1e-6, "KHZ": 1e-3, "MHZ": 1.0, "GHZ": 1e3}
FORMATS = ("DB", "MA", "RI")
OTHER_PARAMETERS = ("Y", "Z", "H", "G")
STANDARD_OHM = 50.0
MOST_PORTS = 2
_GLUED = re.compile(r"R([0-9.]+)")
_COLUMN_NAME = re.compile(r"R?S[0-9]{2}\w*")
WRITE_LINE = "Write it as # MHz S DB R 50, with the unit and format of the numbers below it."


@dataclass(frozen=True)
class Option:
    """`mhz_per_unit` of the frequencies; `reference_ohm` of each port, or one for all."""

    line: Line
    mhz_per_unit: float
    format: str
    reference_ohm: tuple[float, ...]
    warnings: tuple[str, ...] = ()

    def check_ports(self, ports):
        if len(self.reference_ohm) not in (1, ports):
            self.line.refuse("there are more references than ports.", WRITE_LINE)


def read_option(line):
    """The Option of a line that begins with #."""
    words = _GLUED.sub(r"R \1", line.content[1:].upper()).split()
    said, warnings = {}, []
    while words:
        word = words.pop(0)
        if word in MHZ_PER_UNIT:
            _say(line, said, "unit", word)
        elif word in FORMATS:
            _say(line, said, "format", word)
        elif word == "R":
            _say(line, said, "reference", _ohms(line, words))
        elif word in OTHER_PARAMETERS:
            line.refuse(f"the numbers are {word} parameters, not S parameters.", "Save the sweep as S parameters.")
        elif _COLUMN_NAME.fullmatch(word):
            said.setdefault("names", word)
        elif word != "S":
            _refuse_word(line, word)
    if said.get("reference") == () or said.get("names", "").startswith("R"):
        warnings.append("No number follows R on the line with #. 50 ohm was taken.")
    elif "names" in said:
        warnings.append("Names of columns on the line with # were passed over.")
    return Option(
        line,
        MHZ_PER_UNIT[said.get("unit", "GHZ")],
        said.get("format", "MA"),
        said.get("reference") or (STANDARD_OHM,),
        tuple(warnings),
    )


def _say(line, said, what, value):
    if said.setdefault(what, value) != value:
        line.refuse(f"the {what} is said twice, and differs.", WRITE_LINE)


def _ohms(line, words):
    ohms = []
    while words and words[0][0] in "+-.0123456789":
        ohms += NumberWords().read(line, [words.pop(0)])
    return check_ohms(line, tuple(ohms))


def check_ohms(line, ohms):
    """Reference resistances: one for all ports, or one for each."""
    if len(ohms) > MOST_PORTS or not all(ohm > 0 and math.isfinite(ohm) for ohm in ohms):
        line.refuse("the reference is no resistance above zero, for one port or for two.", WRITE_LINE)
    return ohms


def _refuse_word(line, word):
    if word.endswith("HZ") or word in ("SEC", "NS", "PS", "US", "MS", "M"):
        line.refuse(
            f"the unit {quoted(word)} is not Hz, kHz, MHz or GHz.", "Save the sweep over frequency, not over time."
        )
    line.refuse(f"{quoted(word)} is no word of the line with #.", WRITE_LINE)
