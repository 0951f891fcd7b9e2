"""Lists of mat numbers as people write them, against the mats that there are or as new ones. How: `number_lists`."""

import re
from dataclasses import dataclass

from ..models import Mat
from ..models.fields import code_key
from .number_lists import has_digit, has_dots_for_commas, in_halves, is_no_name, plain, read_list, takes_away

_DIGITS = re.compile(r"\d{1,9}")
_DIGITS_BEHIND = re.compile(r"\d{1,9}$")


@dataclass(frozen=True)
class MatList:
    """What a list names: mats in the order written, each once; withdrawn ones; words that name no mat; notes.

    `excepting`: what says which mats are not meant. Then the list, `as_typed`, names none.
    """

    mats: tuple[Mat, ...]
    withdrawn: tuple[Mat, ...]
    unknown: tuple[str, ...]
    left_out: tuple[str, ...] = ()
    excepting: tuple[str, ...] = ()
    as_typed: str = ""

    @property
    def left_over(self):
        """What could not be taken, as a list to correct."""
        if self.excepting:
            return self.as_typed
        return ", ".join([*self.unknown, *(mat.number for mat in self.withdrawn)])


def read_mat_list(text, mats, on, ticked=()):
    """Read a list against these mats, or KnownMats of many lists; withdrawn by that day counts as withdrawn.

    `ticked`: numbers of more of them.

    Upper and lower case are the same unless two mats differ only by it. *all* stands for those in use. `17` is M-017
    where no other mat ends in 17 and none is called by digits alone.
    """
    known = mats if isinstance(mats, KnownMats) else KnownMats(mats)
    ticks, listed = (read_list(each, known.has) for each in ("\n".join(ticked), text))
    excepting = tuple(part.text for part in listed.parts if not part.names and takes_away(part.text))
    found, unknown = _named([*ticks.parts, *(() if excepting else listed.parts)], known, on)
    return MatList(
        tuple(mat for mat in found if mat.in_use(on)),
        tuple(mat for mat in found if not mat.in_use(on)),
        tuple(dict.fromkeys([*unknown, *excepting])),
        listed.left_out,
        excepting,
        text.strip(),
    )


def _named(parts, known, on):
    """The mats that these parts name, and what of them names none."""
    found, unknown = {}, {}
    for part in parts:
        named = [mat for mat in known.mats if mat.in_use(on)] if part.is_all else [*map(known.get, part.names)]
        found |= {mat.pk: mat for mat in named if mat}
        if not any(named):
            unknown[part.text] = None
        elif not part.is_all:
            unknown |= {name: None for name, mat in zip(part.names, named, strict=True) if mat is None}
    return found.values(), unknown


def why_not_known(listed):
    """A sentence about what of a list names no mat, and what to do; "" where all is known."""
    if listed.excepting:
        return f"No mat is taken from a list with “{'”, “'.join(listed.excepting)}”. Write only the numbers that went."
    if listed.unknown:
        return f"Not known: {', '.join(listed.unknown)}. Correct them in the list below, or leave them out."
    return ""


def notes_left_out(listed):
    """A sentence for each note in a list, so that nobody thinks it was understood."""
    return [f"Left out of the list of mats, as a note: {note}" for note in listed.left_out]


@dataclass(frozen=True)
class NewNumbers:
    """Numbers of mats that are not on record yet, in the order written, each once; and notes."""

    numbers: tuple[str, ...]
    left_out: tuple[str, ...] = ()

    @property
    def words(self):
        """Those without a digit."""
        return [number for number in self.numbers if not has_digit(number)]

    @property
    def halved(self):
        """Those that may be two numbers, as K1-M5."""
        return [number for number in self.numbers if in_halves(number)]


class Unread(ValueError):
    """A part of a list that is no number; `why` says what to do."""

    def __init__(self, text, why):
        super().__init__(text)
        self.why = why


_BRACKETS = set("()[]{}")
RANGE_OR_LIST = "write M-001 to M-008, at most 1,000, without spaces in a number"
WHICH = "write the numbers of all mats, such as 1-14"
ONLY_THOSE = "write only the numbers that you mean"
NUMBERS = "write the number of each mat, such as 1-14"
COMMAS = "write commas between numbers, not dots"
NOTE_OR_NAME = "put a note in brackets, and a mat that is called so on a line of its own"


def read_new_numbers(text):
    """The NewNumbers of a list of mats of which none is on record.

    No mat is known, so a hyphen within a number looks like one between two: `M-001-008` and `1-8` are ranges. Unread
    for a range that is none or too long, for *all*, and for a word without a digit: among numbers that have one, as in
    `M 001` or `K1 K2 spare`, and wherever it is no name, as *mat*.
    """
    listed = read_list(text)
    numbered = any(has_digit(name) for part in listed.parts for name in part.names)
    names = {}
    for at, part in enumerate(listed.parts):
        if why := _why_not(part, numbered, listed.parts[at + 1 : at + 2]):
            raise Unread(*why)
        for name in part.names:
            names.setdefault(code_key(name), name)
    return NewNumbers(tuple(names.values()), listed.left_out)


def _why_not(part, numbered, following):
    """What cannot be read, and what to do; None for a part that can."""
    if part.is_all:
        return part.text, WHICH
    if part.why:
        return part.text, part.why
    if not part.names:
        return part.text, ONLY_THOSE if takes_away(part.text) else RANGE_OR_LIST
    if not _BRACKETS.isdisjoint(part.text) or (numbered and not part.alone and not has_digit(part.text)):
        numbers = [number.text for number in following if number.text.isdecimal()]
        return (f"{part.text} {numbers[0]}", RANGE_OR_LIST) if numbers else (part.text, NOTE_OR_NAME)
    if is_no_name(part.text):
        return part.text, NUMBERS
    return (part.text, COMMAS) if len(part.names) == 1 and has_dots_for_commas(part.text) else None


class KnownMats:
    """Mats by how their numbers may be written."""

    def __init__(self, mats):
        self.mats = mats
        self.exact = {mat.number: mat for mat in mats}
        self.alike = {}
        for mat in mats:
            self.alike.setdefault(plain(mat.number), []).append(mat)
        self.by_digits = _by_digits(mats)

    def get(self, name):
        alike = self.alike.get(plain(name), []) or self.by_digits.get(_digits(name), [])
        return self.exact.get(name) or (alike[0] if len(alike) == 1 else None)

    def has(self, name):
        return self.get(name) is not None


def _by_digits(mats):
    """{17: [M-017]}; empty where a mat is called by digits alone."""
    if any(_digits(mat.number) is not None for mat in mats):
        return {}
    by_digits = {}
    for mat in mats:
        if ending := _DIGITS_BEHIND.search(mat.number):
            by_digits.setdefault(int(ending[0]), []).append(mat)
    return by_digits


def _digits(name):
    return int(name) if _DIGITS.fullmatch(name) else None
