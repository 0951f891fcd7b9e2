"""A price list as people have it: one cable a line, with its length, its price and what the supplier calls it."""

import re
from dataclasses import dataclass
from decimal import Decimal

# each of the three may be apart by blanks, a tab or a semicolon, as a spreadsheet pastes them
_LINE = re.compile(r"(\d+(?:[.,]\d+)?)\s*m?(?:[\s;]+(\d+(?:[.,]\d{1,2})?)(?:[\s;]+(\S.*))?)?", re.ASCII)
MOST_LINES = 500


@dataclass(frozen=True)
class PriceLine:
    """`number`: its place among the lines, 1 first; `supplier_number`: "" where nothing stands there."""

    number: int
    length_m: float
    price: Decimal
    supplier_number: str


class NotAPrice(ValueError):
    """A line that cannot be read; `number` counts from 1."""

    def __init__(self, number, text):
        self.number, self.text = number, text
        super().__init__(f"line {number}: {text}")


def read_price_lines(text):
    """[PriceLine]; empty lines, and those with a length alone, say nothing. NotAPrice for the first that is neither."""
    lines = []
    for number, line in enumerate(text.splitlines(), 1):
        found = _LINE.fullmatch(line.strip())
        if line.strip() and not found:
            raise NotAPrice(number, line.strip())
        if found and found[2]:
            length_m, price = (part.replace(",", ".") for part in found.group(1, 2))
            lines.append(PriceLine(number, float(length_m), Decimal(price), (found[3] or "").strip()))
    return lines
