"""Numbers as analysers write them, and as regional settings spoil them."""

import math
import re

from .records import short

_POINT = re.compile(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eEdD][-+]?[0-9]+)?")
_COMMA = re.compile(r"[-+]?[0-9]+,[0-9]+(?:[eEdD][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?(?:nan|inf|infinity|[0-9]\.#\w+)", re.IGNORECASE)
_D = re.compile("[dD]")
LONGEST_WORD = 20
SWEEP_AGAIN = "Calibrate the analyser, sweep and save again."
WRITE_POINTS = "Write the numbers like 1.31, the same way throughout."


class NumberWords:
    """Reads the numbers of one file and remembers what it converted, so that it can be said."""

    def __init__(self):
        self.has_commas = self.has_points = self.has_d = False

    def read(self, line, words):
        """The words as floats; refused with the line where one is no finite number."""
        return [self._number(line, word) for word in words]

    def warnings(self):
        if self.has_commas:
            yield "Numbers are written with decimal commas. They were read as 1,31 = 1.31."
        yield from self.warnings_of_exponents()

    def warnings_of_exponents(self):
        if self.has_d:
            yield "Exponents are written with D. They were read as 8.9D+08 = 8.9E+08."

    def _number(self, line, word):
        if _COMMA.fullmatch(word):
            self.has_commas = True
            word = word.replace(",", ".")
        elif _POINT.fullmatch(word):
            self.has_points = self.has_points or "." in word
        elif _NOT_FINITE.fullmatch(word):
            line.refuse(f"{word} is no measured value.", SWEEP_AGAIN)
        else:
            line.refuse(f"{quoted(word)} is not a number.", WRITE_POINTS)
        if self.has_commas and self.has_points:
            line.refuse("numbers have decimal commas and decimal points in the same file.", WRITE_POINTS)
        return self._finite(line, word)

    def _finite(self, line, word):
        if _D.search(word):
            self.has_d = True
            word = _D.sub("E", word)
        if not math.isfinite(number := float(word)):
            line.refuse(f"{quoted(word)} is larger than any number.", SWEEP_AGAIN)
        return number


def quoted(word):
    return f"“{short(word, LONGEST_WORD)}”"
