"""Checks of single values, used alike by models, forms and files."""

import math
import re
import unicodedata
from datetime import timedelta

from django.core.exceptions import ValidationError
from django.core.validators import EmailValidator

from .figures import short_day
from .limits import LONGEST_LINK_DAYS

CODE_LENGTH = 60
# why something was done, wherever it is typed
REASON_LENGTH = 200
# what an event and its place are called
NAME_LENGTH = 200
# "SMA plug, straight, for 2.5 mm coax", and more than a maker writes
CONNECTOR_LENGTH = 100
# what a supplier calls a cable
SUPPLIER_NUMBER_LENGTH = 60
# they stand in addresses where a code would stand: /events/log/, /mats/add/
ADDRESS_WORDS = ("add", "log")
# no eye sees them, they end lines or turn the reading direction of what follows, and half a surrogate is no character
UNSEEN = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
UNSEEN_BUT_LINES = re.compile(rf"(?![\t\r\n]){UNSEEN.pattern}")
# a mail to more is for a mailing list
MOST_ADDRESSES = 10
_BETWEEN_ADDRESSES = re.compile(r"[\s,;]+")
_check_mail_address = EmailValidator()
_ONE_LINE = {"\t": "a tab", "\r": "a line break", "\n": "a line break"}


def check_line(text):
    """Text on one line: no character that cannot be seen."""
    _refuse(UNSEEN.search(text))


def check_lines(text):
    """Text on any number of lines: beside line breaks and tabs no character that cannot be seen."""
    _refuse(UNSEEN_BUT_LINES.search(text))


def _refuse(found):
    if found:
        what, why = f"a control character (U+{ord(found[0]):04X})", "it cannot be seen"
        if found[0] in _ONE_LINE:
            what, why = _ONE_LINE[found[0]], "this is one line of text"
        raise ValidationError(f"Take out character {found.start() + 1}, {what}: {why}.", code="unseen")


def check_code(value):
    """A mat number, serial or other code: printable, without a slash (it stands in addresses), not dots alone."""
    if not value or value != value.strip():
        raise ValidationError("Write a code without spaces at its ends.", code="code")
    wrong = [place for place, c in enumerate(value, 1) if c in "/\\" or unicodedata.category(c).startswith("C")]
    if wrong:
        sentence = f"A code has no slash and no control character: take out character {wrong[0]}."
        raise ValidationError(sentence, code="code")
    if value in ADDRESS_WORDS:
        raise ValidationError(f"“{value}” is an address that the app uses itself: write another code.", code="code")
    if set(value) == {"."}:
        raise ValidationError("A code needs a letter or a digit.", code="code")


def check_positive(value):
    """A length, a width, a weight: a finite number above zero."""
    if value is None or not math.isfinite(value) or value <= 0:
        raise ValidationError("Write a number above 0.", code="positive")


def check_not_negative(value):
    """An amount: a finite number of zero or more."""
    if value is None or not math.isfinite(value) or value < 0:
        raise ValidationError("Write 0 or a number above it.", code="not_negative")


def check_folds(folds_m):
    """Distances of the fold lines from the feed end, in metres: finite, above zero and rising."""
    if not isinstance(folds_m, list) or not all(isinstance(f, (int, float)) and math.isfinite(f) for f in folds_m):
        raise ValidationError("Fold lines are distances in metres, with spaces between them.", code="folds")
    if any(f <= 0 for f in folds_m) or sorted(set(folds_m)) != folds_m:
        raise ValidationError("Fold lines rise from the feed end, each once and above 0.", code="folds")


def check_last_day(day, on):
    """The last day of a link for a phone."""
    last = on + timedelta(days=LONGEST_LINK_DAYS)
    if day < on:
        raise ValidationError(f"This day is over. Write {short_day(on)} or a later day.")
    if day > last:
        raise ValidationError(f"A link works for a year at most. Write {short_day(last)} or an earlier day.")


def mail_addresses(text):
    """The addresses in a text, with blanks, commas or semicolons between, each once; unchecked."""
    return tuple(dict.fromkeys(filter(None, _BETWEEN_ADDRESSES.split(text))))


def check_mail_addresses(text):
    """Each an address to which mail can go, such as quay@example.org."""
    addresses = mail_addresses(text)
    for address in addresses:
        try:
            _check_mail_address(address)
        except ValidationError:
            raise ValidationError(f"“{address}” is no mail address, such as quay@example.org.", code="mail") from None
    if len(addresses) > MOST_ADDRESSES:
        raise ValidationError(f"Write {MOST_ADDRESSES} addresses at most, or one of a mailing list.", code="mail")


def check_not_after(day, on, what="day"):
    """A thing that has happened cannot be dated after the day it is entered."""
    if day is not None and day > on:
        raise ValidationError(f"The {what} {short_day(day)} is after today, {short_day(on)}.", code="future")
