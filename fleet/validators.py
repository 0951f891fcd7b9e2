"""Checks of single values, used alike by models, forms and files."""

import math
import unicodedata

from django.core.exceptions import ValidationError

CODE_LENGTH = 60
# why something was done, wherever it is typed
REASON_LENGTH = 200
# they stand in addresses where a code would stand: /events/log/, /mats/add/
ADDRESS_WORDS = ("add", "log")


def check_code(value):
    """A mat number, serial or other code: printable, without a slash (it stands in addresses), not dots alone."""
    if not value or value != value.strip():
        raise ValidationError("Write a code without spaces at its ends.", code="code")
    if "/" in value or "\\" in value or any(unicodedata.category(c).startswith("C") for c in value):
        raise ValidationError("A code has no slash and no control character.", code="code")
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


def check_not_after(day, on, what="day"):
    """A thing that has happened cannot be dated after the day it is entered."""
    if day is not None and day > on:
        raise ValidationError(f"The {what} {day:%Y-%m-%d} is after today, {on:%Y-%m-%d}.", code="future")
