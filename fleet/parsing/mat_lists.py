"""Lists of mat numbers as people write them: `M-001, m-2; M-004 to M-008`."""

import re
from dataclasses import dataclass

from ..models import Mat
from ..models.fields import code_key

LONGEST_RANGE = 1_000
_BETWEEN = re.compile(r"[,;\n\r\t]+")
_DASHES = str.maketrans("‐‑–—−", "-----")
_TO = {"to", "-", "–", "—", "..", "…"}
_RANGE_SIGN = re.compile(r"–|—|\.{2,}|…|-")
_BLANK_WITHIN = re.compile(r"(?<![\w-])(?!to\b)[^\W\d_]+[ \t]+\d+", re.IGNORECASE)
_NUMBERED = re.compile(r"(.*?)(\d{1,9})$", re.DOTALL)


@dataclass(frozen=True)
class MatList:
    """What a list names: mats in the order written, each once; withdrawn ones; and words that name no mat."""

    mats: tuple[Mat, ...]
    withdrawn: tuple[Mat, ...]
    unknown: tuple[str, ...]

    @property
    def left_over(self):
        """What could not be taken, as a list to correct."""
        return ", ".join([*self.unknown, *(mat.number for mat in self.withdrawn)])


def read_mat_list(text, mats, on):
    """Read a list against these mats; withdrawn on or before that day counts as withdrawn.

    Blanks, commas, semicolons and new lines separate; upper and lower case are the same unless two mats differ only by
    it; `M-001 to M-008`, with a dash or shortened to `M-001 to 8`, names all of them.
    """
    known = _Known(mats)
    found, unknown = {}, {}
    for word in _words(text, known):
        for name in known.expand(word):
            mat = known.get(name)
            if mat is None:
                unknown[name] = None
            else:
                found[mat.pk] = mat
    return MatList(
        tuple(mat for mat in found.values() if mat.in_use(on)),
        tuple(mat for mat in found.values() if not mat.in_use(on)),
        tuple(unknown),
    )


def read_new_numbers(text):
    """Numbers of mats that are not on record yet, in the order written, each once; ranges as in `read_mat_list`.

    No mat is known, so a hyphen or blank within a number looks like one between two: `M-001-008` and `1-8`
    are ranges. ValueError, with what could not be read, for a range that is none or too long, and for `M 001`.
    """
    blank_within = _BLANK_WITHIN.search(text)
    if blank_within:
        raise ValueError(blank_within[0])
    names = {}
    for word in _words(text, _Known(())):
        for name in _new_names(word):
            names.setdefault(code_key(name), name)
    return list(names.values())


def _new_names(word):
    if isinstance(word, tuple):
        names = _range(*word)
    else:
        signs = list(_RANGE_SIGN.finditer(word))
        ranges = (_range(word[: sign.start()], word[sign.end() :]) for sign in signs)
        names = next(filter(None, ranges), [word] if all(sign[0] == "-" for sign in signs) else None)
    if names is None:
        raise ValueError(f"{word[0]} to {word[1]}" if isinstance(word, tuple) else word)
    return names


def _words(text, known):
    """Single names, and ranges as (first, last). A whole line that is a mat number stays whole, blanks and all."""
    for piece in filter(None, (piece.strip() for piece in _BETWEEN.split(text))):
        if known.get(piece):
            yield piece
            continue
        words = piece.split()
        while words:
            if len(words) > 2 and words[1].casefold() in _TO:
                yield words[0], words[2]
                words = words[3:]
            else:
                yield words.pop(0)


class _Known:
    def __init__(self, mats):
        self.exact = {mat.number: mat for mat in mats}
        self.alike = {}
        for mat in mats:
            self.alike.setdefault(_plain(mat.number), []).append(mat)

    def get(self, name):
        alike = self.alike.get(_plain(name), [])
        return self.exact.get(name) or (alike[0] if len(alike) == 1 else None)

    def expand(self, word):
        """The names that a word or a pair stands for; what is no range stays as it was written."""
        if isinstance(word, tuple):
            return _range(*word) or [f"{word[0]} to {word[1]}"]
        if self.get(word):
            return [word]
        for sign in _RANGE_SIGN.finditer(word):
            first, last = word[: sign.start()], word[sign.end() :]
            if self.get(first) and (names := _range(first, last)):
                return names
        return [word]


def _plain(name):
    return name.translate(_DASHES).casefold()


def _range(first, last):
    """All names from the first to the last, or None when these are no two ends of a range."""
    start, end = _NUMBERED.match(first), _NUMBERED.match(last)
    if not start or not end or _plain(end[1]) not in (_plain(start[1]), ""):
        return None
    numbers = range(int(start[2]), int(end[2]) + 1)
    if not 0 < len(numbers) <= LONGEST_RANGE:
        return None
    return [f"{start[1]}{number:0{len(start[2])}d}" for number in numbers]
