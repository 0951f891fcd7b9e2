"""What a password may be: one list for every place where a new one is chosen. Those in use stay valid."""

import re

from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError

SHORTEST, LONGEST = 8, 128
# what is longer is nobody's password, and to hash it would take the longer
ENDLESS = 1024
# of these alone a password is guessed first, whatever the app is called
NAMES = ("halfpower", "password")
# a shorter name of an account stands in many a word
SHORTEST_NAME = 3
ROWS = ("abcdefghijklmnopqrstuvwxyz", "01234567890", "qwertyuiop", "qwertzuiop", "azertyuiop", "asdfghjkl", "zxcvbnm")
RUN, LEAST_BESIDE_RUNS = 3, 4

TOO_SHORT = f"This password is too short. Write at least {SHORTEST} characters."
TOO_LONG = f"This password is too long. Write at most {LONGEST} characters."
ONE_CHARACTER = "This password is one character over and over. Write several words."
BLANKS = "This password is nothing but blanks. Write several words."
ONLY_DIGITS = "This password has only digits. Write words too."
IN_A_ROW = "This password follows the alphabet, the digits or the keyboard. Write several words."
COMMON = "This password is too common. Write several words that do not belong together."


def check_not_endless(password):
    """Refuse before anything is hashed what only somebody sends who wants to keep the computer busy."""
    if len(password) > ENDLESS:
        raise ValidationError(f"Write at most {ENDLESS} characters; this has {len(password)}.", code="max_length")


class NotSoonGuessed:
    """Every reason for which a new password is refused, in plain words; named to Django by AUTH_PASSWORD_VALIDATORS."""

    def __init__(self):
        self.common = CommonPasswordValidator().passwords

    def validate(self, password, user=None):
        if reasons := list(self._reasons(password[: LONGEST + 1], user.get_username() if user else "")):
            raise ValidationError([ValidationError(reason, code="weak") for reason in reasons])

    def get_help_text(self):
        return ""

    def _reasons(self, password, name):
        plain = password.casefold()
        if len(password) < SHORTEST:
            yield TOO_SHORT
        if len(password) > LONGEST:
            yield TOO_LONG
        if guessed := _first_reason(plain, name.casefold()):
            yield guessed
        if plain.strip() in self.common:
            yield COMMON


def _first_reason(plain, name):
    """The first of the ways in which this is guessed; "" for none of them."""
    without_signs = re.sub(r"[\W_]", "", plain)
    if not plain.strip():
        return BLANKS
    if len(set(plain)) == 1:
        return ONE_CHARACTER
    if without_signs.isdigit() and not _is_run(without_signs):
        return ONLY_DIGITS
    if _is_run(without_signs):
        return IN_A_ROW
    return _made_of_names(plain, [name, *NAMES])


def _made_of_names(plain, names):
    found = [name for name in names if len(name) >= SHORTEST_NAME and name in plain]
    rest = plain
    for name in found:
        rest = rest.replace(name, "")
    if not found or len(rest) >= SHORTEST:
        return ""
    return f"This password is “{found[0]}” and little else. Write other words."


def _is_run(text):
    """True for *abcdefgh*, *87654321*, *qwer1234*: without what follows a row of characters little is left."""
    beside, at = 0, 0
    while at < len(text):
        length = max(_run_at(text, at, row) for row in (*ROWS, *(row[::-1] for row in ROWS)))
        beside, at = (beside, at + length) if length >= RUN else (beside + 1, at + 1)
    return bool(text) and beside < min(LEAST_BESIDE_RUNS, len(text))


def _run_at(text, at, row):
    """How many characters from this one on follow each other in the row."""
    length = 0
    while at + length < len(text) and text[at : at + length + 1] in row:
        length += 1
    return length
