"""What a list of mat numbers says, before anybody asks which of them there are: `K1, K2 und 4`, `17 18 20-24 (old)`.

Commas, semicolons, blanks and new lines separate. Words that only join, as *and*, and words for *mat* are no numbers.
Notes in brackets are left out, and named. `M-001 to M-008`, with a dash or shortened to `M-001 to 8`, is a range.
A name that is known (`is_known`) is taken as it stands, whatever else it might be read as.
static/js/mat_list.js reads the same while somebody types: what is changed here is changed there.
"""

import re
from dataclasses import dataclass
from itertools import starmap

LONGEST_RANGE = 1_000
BACKWARDS = "it runs backwards, so write the lower number first. A mat that is called so is added in the register"
TOO_LONG = f"it is more than {LONGEST_RANGE:,} mats, so write fewer at a time"
LETTERS = "letters make no range, so write each number, as 2a, 2b, 2c"
DASHES = str.maketrans("‐‑–—−", "-----")
_TO = {"to", "-", "–", "—", "..", "...", "…", "bis", "through", "thru", "until", "till"}
_JOINING = {"and", "und", "et", "or", "oder", "plus", "sowie", "also", "u.", "&", "+", "/", "|", "*", "•", "-", "–"}
_JOINING_LETTERS = {"y", "e", "u"}
_MAT_WORDS = {"mat", "mats", "matte", "matten", "no", "no.", "nr", "nr.", "number", "numbers", "nummer", "nummern"}
_MAT_WORDS |= {"from", "von", "the", "die", "between"}
_EXCEPT = {"except", "but", "without", "not", "ohne", "außer", "ausser", "nicht", "sans", "excluding", "minus"}
_ALL = re.compile(r"(?:all|alle|everything|alles|every)(?: (?:of )?(?:the |our )?(?:mats?|matten?|them|it))?")
_LINES, _PIECES = re.compile(r"[\n\r\t]+"), re.compile(r"[,;]+")
_NOTE = re.compile(r"\([^()]*\)|\[[^\[\]]*\]|\{[^{}]*\}")
_RANGE_SIGN = re.compile(r"–|—|\.{2,}|…|-")
_LOOSE_DASH = re.compile(r"(?<=\w)(?:\s+([-–—]|\.{2,}|…)\s*(?=\d)|\s*([-–—]|\.{2,}|…)\s+(?=\w))")
_HALVES = re.compile(r"[-.]")
_DASHED = re.compile(r"^[-–—]|[-–—]$")
_JOINED = re.compile(r"(?<=\d)[/&+](?=\w*\d)|(?<=\d)[/&+](?=[^\W\d]+[-\w]*\d)")
_NUMBERED = re.compile(r"(.*?)(\d{1,9})$", re.DOTALL)
_LETTERED, _LETTERED_END = re.compile(r".*\d[^\W\d_]", re.DOTALL), re.compile(r"(?:.*\d)?[^\W\d_]", re.DOTALL)
_QUOTES = "\"'“”„‘’‚«»"


@dataclass(frozen=True)
class Part:
    """A word of the list, or two with what makes a range of them.

    `names`: what it stands for; none where it cannot be read. `is_all`: it says *all*. `alone`: it has its line for
    itself. `why`: why two numbers with a dash or the like between them make no range, and what to write.
    """

    text: str
    names: tuple[str, ...] = ()
    is_all: bool = False
    alone: bool = False
    why: str = ""


@dataclass(frozen=True)
class Listed:
    """The parts of a list in the order written, and the notes that are left out."""

    parts: tuple[Part, ...]
    left_out: tuple[str, ...]


def read_list(text, is_known=lambda name: False):
    """What the text says, as Listed; nothing is refused here."""
    parts, left_out = [], []
    for line in filter(None, (line.strip() for line in _LINES.split(text))):
        if is_known(line):
            parts.append(Part(line, (line,), alone=True))
            continue
        bare = _without_notes(line, is_known, parts, left_out)
        pieces = [piece.strip() for piece in _PIECES.split(bare) if piece.strip()]
        for piece in pieces:
            parts += _parts_of_piece(piece, is_known, alone=len(pieces) == 1)
    return Listed(tuple(parts), tuple(left_out))


def _without_notes(line, is_known, parts, left_out):
    """The line without its notes, which go to `left_out`; one that takes numbers away again cannot be read."""

    def take(found):
        note = found[0]
        if any(note in piece and is_known(piece.strip()) for piece in (note, *_PIECES.split(line))):
            return note
        if takes_away(note) and has_digit(note):
            parts.append(Part(note))
        else:
            left_out.append(note)
        return " "

    return _NOTE.sub(take, line)


def _parts_of_piece(piece, is_known, alone):
    if is_known(piece):
        return [Part(piece, (piece,), alone=alone)]
    if _ALL.fullmatch(" ".join(piece.casefold().split())):
        return [Part(piece, is_all=True)]
    words = _words(piece, is_known)
    if takes_away(" ".join(word for word in words if not is_known(word))):
        return [Part(piece)]
    return list(_read_words(words, is_known, alone and len(words) == 1))


def _words(piece, is_known):
    """The words of a piece, those apart that stand together as `M1/M2` or `25 -30`."""
    words = piece.split()
    if not any(is_known(word) for word in words if _DASHED.search(word)):
        words = _LOOSE_DASH.sub(lambda found: f" {found[1] or found[2]} ", piece).split()
    apart = (word if is_known(word) else _JOINED.sub(" ", word) for word in words)
    return [_bare(word, is_known) for words in apart for word in words.split()]


def _bare(word, is_known):
    """Without quotation marks, a sign for *number*, and the stop behind it."""
    if is_known(word) or word.casefold() in _TO | _JOINING | _MAT_WORDS:
        return word
    return word.strip(_QUOTES).removeprefix("#").rstrip(".:") or word


def _read_words(words, is_known, alone):
    at = 0
    while at < len(words):
        word, rest = words[at], words[at + 1 :]
        if len(rest) > 1 and rest[0].casefold() in _TO and not is_known(rest[0]):
            yield Part(f"{word} to {rest[1]}", range_of(word, rest[1]) or (), why=why_no_range(word, rest[1]))
            at += 3
            continue
        if is_known(word) or not _only_joins(word, words[at - 1 : at], rest):
            yield _read_word(word, is_known, alone)
        at += 1


def _only_joins(word, before, rest):
    plain = word.casefold()
    if plain in _JOINING:
        return True
    if plain in _JOINING_LETTERS:
        return bool(before and rest) and has_digit(before[0]) and has_digit(rest[0])
    return plain in _MAT_WORDS and bool(rest) and has_digit(rest[0])


def _read_word(word, is_known, alone):
    if is_known(word):
        return Part(word, (word,), alone=alone)
    signs = list(_RANGE_SIGN.finditer(word))
    ends = [(word[: sign.start()], word[sign.end() :]) for sign in signs]
    if names := next(filter(None, starmap(range_of, ends)), None):
        return Part(word, names, alone=alone)
    why = next(filter(None, starmap(why_no_range, ends)), "")
    return Part(word, (word,) if all(sign[0] == "-" for sign in signs) else (), alone=alone, why=why)


def is_no_name(word):
    """It speaks of mats or of a range, or holds neither a letter nor a digit."""
    return word.casefold() in _MAT_WORDS | _TO or not any(c.isalnum() for c in word)


def in_halves(name):
    """It has a number on either side of a dash or a dot, so that it may be one name or two."""
    return len([half for half in _HALVES.split(name) if has_digit(half)]) > 1


def has_dots_for_commas(name):
    """`K1.K2` and `1.2.3`, but not `1.2`, which may be one name."""
    pieces = name.split(".")
    if len(pieces) == 1 or not all(map(has_digit, pieces)):
        return False
    return len(pieces) > 2 or all(piece[0].isalpha() for piece in pieces)


def takes_away(text):
    """It says which are not meant, and so nothing that is certain."""
    return not _EXCEPT.isdisjoint(re.findall(r"\w+", text.casefold()))


def has_digit(text):
    return any(c.isdecimal() for c in text)


def range_of(first, last):
    """All names from the first to the last, or None when these are no two ends of a range."""
    start, end = _ends(first, last)
    if not start or not 0 <= int(end[2]) - int(start[2]) < LONGEST_RANGE:
        return None
    numbers = range(int(start[2]), int(end[2]) + 1)
    return tuple(f"{start[1]}{number:0{len(start[2])}d}" for number in numbers)


def why_no_range(first, last):
    """What keeps these two from being the ends of a range that they look like; "" where they do not look so.

    `2024-001` looks like none: a smaller number with noughts before it is the second half of a name.
    """
    start, end = _ends(first, last)
    if not start:
        return LETTERS if _LETTERED.fullmatch(first) and _LETTERED_END.fullmatch(last) else ""
    if int(end[2]) - int(start[2]) >= LONGEST_RANGE:
        return TOO_LONG
    if int(end[2]) < int(start[2]) and (end[2][0] != "0" or start[2][0] == "0"):
        return BACKWARDS
    return ""


def _ends(first, last):
    """Both ends in two halves, digits last; two None where what stands before the digits differs."""
    start, end = _NUMBERED.match(first), _NUMBERED.match(last)
    if not start or not end or plain(end[1]) not in (plain(start[1]), ""):
        return None, None
    return start, end


def plain(name):
    """By which two ways to write a number are the same."""
    return name.translate(DASHES).casefold()
