"""How the text of a cell becomes a value, and a value the text of a cell."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError

# A spreadsheet takes a cell that begins with one of these for a formula; a leading ' keeps it a text.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "'")
_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?", re.ASCII)
_AMOUNT = re.compile(r"\d{1,12}(\.\d*)?", re.ASCII)
_WHOLE = re.compile(r"(\d+)(\.0*)?", re.ASCII)
_YES_NO = {"yes": True, "no": False}
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


@dataclass(frozen=True)
class Kind:
    """`read(text, decimal_comma)` gives the value or raises ValidationError; `write(value)` the text of it.

    `of_none` is the text of a value that is not there; `words` those that it takes, where they are few.
    """

    read: Callable[[str, bool], object]
    write: Callable[[object], str]
    of_none: str = ""
    words: tuple[str, ...] = ()


def guarded(text):
    """The text with a ' in front where a spreadsheet would take it for a formula."""
    return "'" + text if text.startswith(FORMULA_STARTS) else text


def unguarded(text):
    """The text before it was guarded: exactly one ' less before what a spreadsheet would take for a formula."""
    return text[1:] if text[:1] == "'" and text[1:].startswith(FORMULA_STARTS) else text


def read_text(text, decimal_comma):
    return unguarded(text)


def read_code(text, decimal_comma):
    return unguarded(text.strip(" "))


def read_lines(text, decimal_comma):
    """However the file ends its lines: a cell with several has them as spreadsheets and forms send them."""
    return "\n".join(unguarded(text).splitlines())


def read_word(text, decimal_comma):
    return text.strip()


def read_number(text, decimal_comma):
    """A decimal point; in files with ; between the cells also a decimal comma."""
    plain = text.strip()
    if decimal_comma and plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    number = float(plain) if _NUMBER.fullmatch(plain) else float("inf")
    if number in (float("inf"), float("-inf")):
        comma = " (a decimal comma only in files with ; between the cells)" if "," in plain else ""
        raise ValidationError(f"a number such as 1.31{comma}")
    return number


def read_amount(text, decimal_comma):
    """The digits as they stand: 0.1 is no sum of halves."""
    plain = text.strip().replace(",", ".", 1) if decimal_comma else text.strip()
    if not _AMOUNT.fullmatch(plain):
        raise ValidationError("an amount such as 12.50")
    return Decimal(plain)


def read_whole(text, decimal_comma):
    match = _WHOLE.fullmatch(text.strip().replace(",", ".") if decimal_comma else text.strip())
    if not match or len(match[1]) > 18:
        raise ValidationError("a whole number such as 4")
    return int(match[1])


def read_signed(text, decimal_comma):
    sign, digits = (text.strip()[:1], text.strip()[1:]) if text.strip()[:1] in ("+", "-") else ("", text)
    try:
        number = read_whole(digits, decimal_comma)
    except ValidationError:
        raise ValidationError("a whole number such as 4 or -4") from None
    return -number if sign == "-" else number


def read_day(text, decimal_comma):
    try:
        if _DAY.fullmatch(text.strip()):
            return date.fromisoformat(text.strip())
    except ValueError:
        raise ValidationError("a day that the calendar has, such as 2026-05-02") from None
    raise ValidationError("a day as 2026-05-02: year, month, day")


def read_yes_no(text, decimal_comma):
    if text.strip() not in _YES_NO:
        raise ValidationError(f"one of: {', '.join(_YES_NO)}")
    return _YES_NO[text.strip()]


def write_yes_no(value):
    return next(word for word, meant in _YES_NO.items() if meant == value)


def read_numbers(text, decimal_comma):
    return [read_number(part, decimal_comma) for part in text.split()]


def write_numbers(numbers):
    return " ".join(repr(float(number)) for number in numbers)


TEXT = Kind(read_text, guarded)
LINES = Kind(read_lines, guarded)
CODE = Kind(read_code, guarded)
WORD = Kind(read_word, str)
AMOUNT = Kind(read_amount, str)
NUMBER = Kind(read_number, lambda number: repr(float(number)))
WHOLE = Kind(read_whole, str)
SIGNED = Kind(read_signed, str)
DAY = Kind(read_day, date.isoformat)
NUMBERS = Kind(read_numbers, write_numbers)
YES_NO = Kind(read_yes_no, write_yes_no, words=tuple(_YES_NO))
