"""What stands in the cells of a column, told from a sample: days, numbers, lists of mats, marks."""

import re
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fleet.models.fields import code_key
from fleet.parsing.log_words import read_yes_no

from ...workbooks.sheet import CellKind

# cells of a column that are looked at, and those of them that are shown
SAMPLE, SHOWN, LONGEST = 200, 5, 120
_DAYS = (CellKind.DAY, CellKind.MONTH)
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?: ?(?:db|m|mhz|°c|c))?", re.IGNORECASE)
_LIST = re.compile(r"all|alle|\S*\d\s*(?:[-–,;/+&]|and |und |to |bis ).*\d.*|\S*\d\s+\S*\d.*", re.IGNORECASE)
_DAY = re.compile(
    r"\d{1,4}[./-] ?\d{1,2}[./-] ?(?:\d{2,4})?|"
    r"(?:q[1-4]|[^\W\d_]{3,9}\.?|about|ca\.?)[ '/]*(?:\d\d|(?:19|20)\d\d)(?:/\d\d)?|"
    r"\d{1,2}\.? [^\W\d_]{3,9}\.?,? \d{2,4}|\d{1,2}/\d{4}|(?:19|20)\d\d",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Profile:
    """Cells of one column that hold something, from the top; shares are of these, 0 where there are none."""

    texts: tuple[str, ...]
    kinds: tuple[int, ...]

    def __bool__(self):
        return bool(self.texts)

    def _share(self, holds):
        return sum(map(holds, self.texts, self.kinds)) / len(self.texts) if self.texts else 0.0

    @cached_property
    def days(self):
        return self._share(lambda text, kind: kind in _DAYS or bool(_DAY.fullmatch(text)))

    @cached_property
    def full_days(self):
        """Days as spreadsheets keep them, and those with day, month and year."""
        return self._share(lambda text, kind: kind in _DAYS or (bool(_DAY.fullmatch(text)) and len(text) > 5))

    @cached_property
    def numbers(self):
        return self._share(lambda text, kind: kind == CellKind.NUMBER or bool(_NUMBER.fullmatch(text)))

    @cached_property
    def decimals(self):
        return self._share(lambda text, kind: bool(_NUMBER.fullmatch(text)) and not text.isdigit())

    @cached_property
    def lists(self):
        """Several mats in one cell."""
        return self._share(lambda text, kind: kind == CellKind.TEXT and bool(_LIST.fullmatch(text)))

    @cached_property
    def yes_or_no(self):
        return self._share(lambda text, kind: kind == CellKind.YES_NO or _is_yes_no(text))

    @cached_property
    def distinct(self):
        return len(set(self.texts)) / len(self.texts) if self.texts else 0.0

    @property
    def counts_anew(self):
        """Whether they count from 1 more than once, as the cables of each mat are counted."""
        places = self._share(lambda text, kind: text.isdecimal() and len(text) < 3 and int(text) > 0)
        return places > 0.9 and self.distinct < 0.9 and "1" in self.texts

    def known(self, keys):
        """The share of codes that are among these keys."""
        return self._share(lambda text, kind: code_key(text) in keys) if keys else 0.0

    @property
    def shown(self):
        """Different cells, the first of them."""
        return list(dict.fromkeys(self.texts))[:SHOWN]


def _is_yes_no(text):
    try:
        return read_yes_no(text) is not None
    except ValueError:
        return False


def profile_of(sheet, column, first_row, end_row):
    """The Profile of the cells of a column between these rows."""
    kinds = sheet.kinds[first_row:end_row, column]
    rows = np.flatnonzero(kinds)[:SAMPLE]
    texts = sheet.texts[first_row:end_row, column][rows]
    return Profile(tuple(text.strip()[:LONGEST] for text in texts), tuple(int(kind) for kind in kinds[rows]))
