"""Text in a box, as large as it may be. No browser is asked how wide a sign is: paper is the same everywhere."""

import re
from dataclasses import dataclass

# Widths of bold signs in parts of the height of the text, wider than in any of the usual fonts without serifs
# (judgement): text is rather smaller than possible than cut off at the edge of a label.
NARROW, WIDE = set("iljtfrI.,:;'!|-/()[] "), set("MWmw@%&ÆŒ—")
NARROW_EM, USUAL_EM, WIDE_EM = 0.48, 0.78, 1.02
ANY_SIGN_EM = 1.1
# monospaced, of all usual fonts
MONO_EM = 0.62
LINE_EM = 1.15
# another line has to make text larger than by a fifth to be worth its while (judgement)
LARGE_ENOUGH = 0.8
# a line ends behind one of these and nowhere else
_PIECES = re.compile(r"[^-_.,/+ ]*[-_.,/+ ]+|[^-_.,/+ ]+")


@dataclass(frozen=True)
class FittedText:
    """Lines, and the height of their text in mm."""

    lines: tuple[str, ...]
    size_mm: float

    @property
    def height_mm(self):
        return len(self.lines) * self.size_mm * LINE_EM


def width_em(text):
    """How wide bold text is at most, in parts of its height."""
    return sum(_sign_em(sign) for sign in text)


def _sign_em(sign):
    if sign in WIDE:
        return WIDE_EM
    if sign in NARROW:
        return NARROW_EM
    # letters of European languages; anything beyond may be as wide as it is high
    return USUAL_EM if ord(sign) < 0x250 else ANY_SIGN_EM


def fit_words(text, width_mm, height_mm, *, largest_mm, most_lines=3):
    """Bold text, large on few lines; lines end behind hyphens, dots and blanks only."""
    pieces = _PIECES.findall(text) or [text]
    ways = (_in_lines(pieces, lines) for lines in range(1, min(most_lines, len(pieces)) + 1))
    return _large_on_few([_fitted(lines, width_mm, height_mm, largest_mm, width_em) for lines in ways])


def fit_signs(text, width_mm, height_mm, *, largest_mm, most_lines=4):
    """Monospaced text, large on few lines; a line may end anywhere, as in an address."""
    ways = (_cut(text, lines) for lines in range(1, most_lines + 1))
    return _large_on_few([_fitted(lines, width_mm, height_mm, largest_mm, _mono_em) for lines in ways])


def _mono_em(line):
    return len(line) * MONO_EM


def _large_on_few(ways):
    """`ways`: on more and more lines."""
    largest = max(fitted.size_mm for fitted in ways)
    return next(fitted for fitted in ways if fitted.size_mm >= LARGE_ENOUGH * largest)


def _fitted(lines, width_mm, height_mm, largest_mm, em):
    widest = max(map(em, lines))
    return FittedText(tuple(lines), min(width_mm / widest, height_mm / (len(lines) * LINE_EM), largest_mm))


def _cut(text, lines):
    length = -(-len(text) // lines)
    return [text[start : start + length] for start in range(0, len(text), length)]


def _in_lines(pieces, lines):
    """The pieces on at most so many lines, none much longer than the others."""
    room, laid = width_em("".join(pieces)) / lines, [""]
    for piece in pieces:
        wider = width_em(laid[-1] + piece.rstrip())
        if laid[-1] and len(laid) < lines and wider - room > room - width_em(laid[-1]):
            laid.append("")
        laid[-1] += piece
    return [line.strip() for line in laid]
