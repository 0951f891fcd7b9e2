"""Numbers as people write them: `0,5 1,0`, `about 0.5 to 4 m`, `25-30`, `twice a month`."""

import math
import re
from dataclasses import dataclass

from .whole_numbers import read_whole

_NUMBER = re.compile(r"\d+(?:\.\d+)?|\.\d+")
_ABOUT = re.compile(
    r"(?:(?:about|approximately|approx\.?|around|roughly|circa|ca\.|ca(?= )|c\.|etwa|ungefähr|from|von|between)"
    r"(?= |\d)|~) ?"
)
_TO = re.compile(r" (?:to|bis|until|up to|and|und) |\s*(?:-|\.{2,}|…)\s*")
_METRES = re.compile(r"(?<=\d) ?m(?:etres?|eters?)?(?= |,|;|-|$)")
_WORDS = {"once": 1, "twice": 2, "weekly": 52, "monthly": 12}
_TIMES = re.compile(r" ?(?:times|x|×|mal)(?= |$)")
_EACH = re.compile(r"(?: (?:a|per|each|every|im|pro)|/) ?(year|month|week|jahr|monat|woche)$")
_A_YEAR = {"year": 1, "month": 12, "week": 52, "jahr": 1, "monat": 12, "woche": 52}


@dataclass(frozen=True)
class CountRange:
    """A whole number of which only the ends are known; they may be the same."""

    low: int
    high: int

    @property
    def middle(self):
        """What is stored; a half is rounded up."""
        return (self.low + self.high + 1) // 2

    def __str__(self):
        return f"{self.low}" if self.low == self.high else f"{self.low} to {self.high}"


def read_times_a_year(text):
    """The CountRange of a rate: `25-30`, `about 28`, `2 to 3 a month`, `weekly`; ValueError for what is none."""
    plain = _without_about(text)
    each = _EACH.search(plain)
    factor = _A_YEAR[each[1]] if each else 1
    plain = _TIMES.sub("", plain[: each.start()] if each else plain).strip()
    ends = [_count(end) * factor for end in _TO.split(plain)]
    if len(ends) > 2 or ends != sorted(ends):
        raise ValueError(text)
    return CountRange(ends[0], ends[-1])


def _count(text):
    number = _WORDS.get(text, read_whole(text))
    if number is None:
        raise ValueError(text)
    return number


def read_numbers(text):
    """Numbers with blanks between: `0.5 1.0 1.5`, `0,5 1,0`, `0.5, 1.0`. ValueError with the word that is none."""
    words = re.split(r"[;\s]+|,\s+|,$", text)
    return [_number(word) for word in _apart(words)]


def read_lengths(text):
    """Lengths in metres as `read_numbers`, or the shortest and the longest: `about 0,5 to 4`, `0.5–4 m`."""
    plain = _METRES.sub("", _without_about(text))
    ends = _TO.split(plain)
    if len(ends) == 2 and all(len(read_numbers(end)) == 1 for end in ends):
        return [*read_numbers(ends[0]), *read_numbers(ends[1])]
    return read_numbers(" ".join(re.split(r" (?:and|und) ", plain)))


def _without_about(text):
    plain = " ".join(text.translate(str.maketrans("‐‑–—−", "-----")).casefold().split())
    return _ABOUT.sub("", plain)


def _apart(words):
    """A comma between digits is a decimal comma, unless points mark the decimals."""
    points = any("." in word for word in words)
    for word in filter(None, words):
        yield from word.split(",") if points else [word.replace(",", ".", 1)]


def _number(word):
    if not _NUMBER.fullmatch(word) or not math.isfinite(float(word)):
        raise ValueError(word)
    return float(word)
