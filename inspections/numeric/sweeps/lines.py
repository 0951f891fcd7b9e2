"""From the bytes of a sweep file to its lines: size, encoding, line ends, comments."""

import re
from dataclasses import dataclass

from fleet.parsing.encodings import NotText, decoded

from .records import SweepRefused

MOST_BYTES = 5 * 2**20
MOST_POINTS = 25_000
# with noise, keywords and what else stands between
MOST_LINES = 4 * MOST_POINTS
LONGEST_LINE = 1000
# those kept beside the numbers; the file itself is kept whole
MOST_COMMENTS, LONGEST_COMMENT = 100, 200
_LINE_END = re.compile("\r\n|\r|\n")
_END_OF_FILE = "\x1a"


@dataclass(frozen=True, slots=True)
class Line:
    """`text` as it stands in the file, `content` without comment and blanks around it."""

    number: int
    text: str
    content: str

    def refuse(self, what, do):
        raise SweepRefused(what, do, line=self.number, text=self.text)


def lines_of(content):
    """(the lines that hold more than a comment, the comments) of a file."""
    lines, comments = [], []
    for number, text in enumerate(_LINE_END.split(_text(content)), 1):
        bare, mark, comment = text.partition("!")
        if bare := bare.strip():
            lines.append(_checked(Line(number, text, bare)))
            if len(lines) > MOST_LINES:
                lines[-1].refuse(f"the file has more than {MOST_LINES:,} lines.", "Save fewer points of one cable.")
        if mark and comment.strip() and len(comments) < MOST_COMMENTS:
            comments.append(comment.strip()[:LONGEST_COMMENT])
    if not lines:
        raise SweepRefused("The file holds no sweep.", "Save the sweep again and look whether the file grows.")
    return lines, tuple(comments)


def _text(content):
    if len(content) > MOST_BYTES:
        raise SweepRefused(
            f"The file is larger than {MOST_BYTES // 2**20} MB.", f"Save at most {MOST_POINTS:,} points of one cable."
        )
    try:
        return decoded(content, undefined="replace").rstrip(_END_OF_FILE)
    except NotText as error:
        raise SweepRefused(
            f"This is {error.found}, not text.", "Save the sweep as Touchstone (.s2p, .s1p) or as CSV."
        ) from None


def _checked(line):
    if len(line.content) > LONGEST_LINE:
        line.refuse(
            f"the line has {len(line.content):,} characters.", "Save the sweep with each frequency on its own line."
        )
    return line
