"""What a cell shows of the number in it, by its number format (ECMA-376-1 18.8.31; the same codes in .xls)."""

import re
from enum import Enum
from functools import lru_cache


class Shows(Enum):
    """What of a number can be seen."""

    NUMBER = "number"
    CODE = "code"
    DAY = "day"
    DAY_AND_TIME = "day and time"
    MONTH = "month"
    YEAR = "year"
    TIME = "time"


ISO_DAY = "yyyy-mm-dd"
# ECMA-376-1 18.8.30: formats that a file names by number alone; of 27 to 36 and 50 to 58, which depend on the language,
# all but times show a day or a month, and what they show is taken as a day
BUILT_IN = {
    **dict.fromkeys((14, 15, 16, *range(27, 32), 36, *range(50, 55), *range(57, 59)), ISO_DAY),
    17: "mmm-yy",
    **dict.fromkeys((18, 19, 20, 21, *range(32, 36), 45, 46, 47, 55, 56), "h:mm"),
    22: f"{ISO_DAY} h:mm",
}
# quoted text, one character as it is, room of a character, filler, bracket; then letters of one kind, and what is left
TOKEN = re.compile(
    r'"(?P<quoted>[^"]*)"|\\(?P<escaped>.)|(?P<room>[_*].)|\[(?P<bracket>[^\]]*)\]|(?P<noon>am/pm|a/p)|general'
    r"|(?P<exponent>e[+-])|(?P<letters>y+|m+|d+|h+|s+|e+)|(?P<place>[0#?])|(?P<other>.)",
    re.IGNORECASE | re.DOTALL,
)
ELAPSED = re.compile(r"h+|m+|s+", re.IGNORECASE)


@lru_cache(maxsize=4096)
def shows(code):
    """What a number format shows of a number, by the part of it that is for numbers above zero."""
    tokens = _tokens(code)
    letters = [match["letters"].lower() for match in tokens if match["letters"]]
    if any(ELAPSED.fullmatch(match["bracket"] or "") for match in tokens):
        return Shows.TIME
    if letters:
        return _shows_of_letters(letters)
    return Shows.CODE if _is_code(tokens) else Shows.NUMBER


def _tokens(code):
    found = []
    for match in TOKEN.finditer(code):
        if match["other"] == ";":
            break
        found.append(match)
    return found


def _shows_of_letters(letters):
    kinds = {_unit(letters, place) for place in range(len(letters))}
    if "day" in kinds:
        return Shows.DAY_AND_TIME if "clock" in kinds else Shows.DAY
    if "month" in kinds:
        return Shows.MONTH
    return Shows.YEAR if "year" in kinds else Shows.TIME


def _unit(letters, place):
    """`m` and `mm` are minutes behind an hour or before a second, else the month."""
    run = letters[place]
    if run[0] == "m":
        before = letters[place - 1][0] if place else ""
        after = letters[place + 1][0] if place + 1 < len(letters) else ""
        return "clock" if len(run) < 3 and (before == "h" or after == "s") else "month"
    return {"d": "day", "y": "year", "e": "year"}.get(run[0], "clock")


def _is_code(tokens):
    """Whole numbers filled up with zeros, or behind letters: `000000`, `"M-"000`. No amounts: `"EUR "0.00`, `#,##0`."""
    if any(
        match["exponent"] or match["bracket"] or (match["other"] or "") in ("%", ".", ",", "@", "/") for match in tokens
    ):
        return False
    places = [match["place"] for match in tokens if match["place"]]
    before = []
    for match in tokens:
        if match["place"]:
            break
        before.append(_literal(match))
    return bool(places) and (places.count("0") > 1 or any(map(str.isalpha, "".join(before))))


def _literal(match):
    return match["quoted"] or match["escaped"] or match["other"] or ""


def code_of(value, code):
    """`004711` of 4711 under `000000`; "" where the number is no whole one above zero, which no code is."""
    if value < 0 or value != int(value) or value >= 1e15:
        return ""
    return _filled(str(int(value)), code)


def _filled(digits, code):
    """The digits from the right into the places of the format; what is left over stands at the first place."""
    tokens, shown = _tokens(code), []
    still = sum(1 for match in tokens if match["place"])
    for match in reversed(tokens):
        if not match["place"]:
            shown.append(_literal(match)[::-1])
            continue
        still -= 1
        taken, digits = (digits[::-1], "") if still == 0 else (digits[-1:], digits[:-1])
        shown.append(taken or ("0" if match["place"] == "0" else ""))
    return "".join(shown)[::-1]
