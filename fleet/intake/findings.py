"""What is wrong in a file, or worth a look: where it stands, what was found, what is expected."""

from collections import Counter
from dataclasses import dataclass

from ..validators import UNSEEN

KEPT_PER_COLUMN = 1000
SHOWN_CHARACTERS, SHOWN_NAMES = 80, 20


@dataclass(frozen=True, slots=True)
class Finding:
    """`line` is 0 for a finding about the file as a whole, `column` empty for one about a whole row."""

    file: str
    line: int
    column: str
    found: str
    expected: str


class Findings:
    """Counts all, and keeps the first thousand of each column: a hostile file must not fill the memory."""

    def __init__(self):
        self.count = 0
        self._kept = []
        self._per_column = Counter()

    def add(self, file, line, column, found, expected):
        self.count += 1
        self._per_column[file, column] += 1
        if self._per_column[file, column] <= KEPT_PER_COLUMN:
            self._kept.append(Finding(file, int(line), column, short(found), expected))

    def in_order(self, files=()):
        """By file in the order of `files`, then by line; stable within a line."""
        place = {file: number for number, file in enumerate(files)}
        return sorted(self._kept, key=lambda finding: (place.get(finding.file, len(place)), finding.file, finding.line))

    def __bool__(self):
        return self.count > 0


def short(found):
    """As much as a sentence can hold, without what a terminal would obey."""
    text = UNSEEN.sub("\ufffd", str(found))
    return text if len(text) <= SHOWN_CHARACTERS else text[: SHOWN_CHARACTERS - 1] + "…"


def same_but_capitals(known):
    """What is expected where a code is written in other capitals than the one that is known."""
    return f"“{known}”, the same except for capital letters; it is taken as that"


def named(names):
    """The first of these names, each as long as a sentence can hold it, and how many there are beside."""
    shown, more = ", ".join(map(short, names[:SHOWN_NAMES])), len(names) - SHOWN_NAMES
    return f"{shown} and {more:,} more" if more > 0 else shown
