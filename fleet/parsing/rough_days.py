"""Days as people write them: `12 March 2024`, `03/2024`, `spring 2023`, `end of 2022`, `2019/20`, `two years ago`.

What can be meant in two ways is refused with both, so that the person says which; of a column of a sheet that is said
once, as its `DayOrder`. What each stands for, and what is stored of it: `approximate_dates`. Weeks are those of
ISO 8601: they begin on Monday, and the first holds the 4th of January.
"""

import re
from datetime import date, timedelta

from ..limits import USUAL_FROM_YEAR, year_of_two_digits
from ..months import MONTHS_A_YEAR, first_of_month, months_after
from .approximate_dates import SEASONS, ApproximateDate, span_in_words, span_of, two_years, week_of
from .day_orders import DayOrder

# months by the beginning of their names, English and German
_MONTHS = {
    **{"jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "oct": 10, "nov": 11},
    **{"dec": 12, "mär": 3, "mrz": 3, "mai": 5, "okt": 10, "dez": 12},
}
_SEASONS = {name: month for month, name in SEASONS.items()} | {
    **{"fall": 9, "frühling": 3, "frühjahr": 3, "sommer": 6, "herbst": 9}
}
_PARTS = {
    **dict.fromkeys(["early", "start", "beginning", "begin", "anfang"], 1),
    **dict.fromkeys(["mid", "middle", "mitte"], 6),
    **dict.fromkeys(["late", "end", "ende"], 10),
}
_COUNTS = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8}
_COUNTS |= {"nine": 9, "ten": 10, "einem": 1, "zwei": 2, "drei": 3}
_LONGEST_AGO = 100
_SOME_YEAR = "“{}” can be any year: write {} and the year, such as {}."


def _one_of(words):
    return "|".join(sorted(map(re.escape, words), key=len, reverse=True))


_ABOUT = re.compile(r"(?:about|approximately|approx\.?|around|roughly|circa|ca\.?|c\.|etwa|ungefähr|~)(?= |\d|$) ?")
_WEEKDAY = re.compile(
    r"(?:mon|tue|tues|wed|thu|thur|thurs|fri|sat|sun|mo|di|mi|do|fr|sa|so|(?:mon|tues|wednes|thurs|fri|satur|sun)day|"
    r"(?:mon|diens|donners|frei|sams|sonn)tag|mittwoch|sonnabend)\.?,? (?=\d|[^\W\d_]{3,9}\.? \d)"
)
_TIME = re.compile(r"[ t]\d{1,2}:\d{2}(?::\d{2}(?:\.0+)?)?(?: ?[ap]m)?$")
_LEADING = re.compile(r"(?:in the|in|since|from|seit|im|on|the|season|saison) (?=\S)")
_YEAR = r"(?P<year>\d{4}|'?\d{2})"
_NEXT = r"(?:/|-| or | to | oder )(?P<next>\d{4}|\d{2})"
_NAME = r"(?P<name>[^\W\d_]{3,9})\.?"
_PART = rf"(?P<part>{_one_of(_PARTS)})(?: of| in)?[ -]"
_SEASON = rf"(?P<season>{_one_of([*_SEASONS, 'winter'])})"
_WEEK = "(?:kw|cw|wk|week|woche|w)"
_AGO = r"(?P<count>\d{1,3}|[a-z]+) (?P<unit>months?|years?|monate?n?|jahre?n?)"
_SHAPES = [
    re.compile(shape)
    for shape in (
        r"(?P<year>\d{4})-(?P<month>\d{1,2})-(?P<day>\d{1,2})",
        r"(?P<year>\d{4})(?P<sign>[/.])(?P<month>\d{1,2})(?P=sign)(?P<day>\d{1,2})",
        r"(?P<year>(?:19|20)\d{2})(?P<month>\d{2})(?P<day>\d{2})",
        rf"(?P<day>\d{{1,2}})(?:\.|st|nd|rd|th)? ?(?:of )?{_NAME},? (?P<year>\d{{4}}|'?\d{{2}})",
        rf"(?P<day>\d{{1,2}})-{_NAME}-(?P<year>\d{{4}}|\d{{2}})",
        rf"{_NAME} (?P<day>\d{{1,2}})(?:st|nd|rd|th)?,? (?P<year>\d{{4}})",
        rf"(?:calendar )?{_WEEK}\.? ?(?P<week>\d{{1,2}})(?: of| in)?[ ,/.-]+{_YEAR}",
        rf"(?P<year>\d{{4}})[ /-]*{_WEEK}\.? ?(?P<week>\d{{1,2}})",
        r"(?P<year>\d{4})-(?P<month>0?[1-9]|1[0-2])",
        r"(?P<month>\d{1,2})[./](?P<year>\d{4}|\d{2})",
        rf"(?:{_PART})?{_SEASON}(?: of)?[ -]?{_YEAR}(?:{_NEXT})?",
        rf"{_YEAR} {_SEASON}",
        rf"{_PART}(?P<year>\d{{4}})",
        rf"(?:{_PART})?(?:of )?{_NAME}(?: of)?,?[ -]?{_YEAR}",
        rf"q(?P<quarter>[1-4])(?: of|/|-)? ?{_YEAR}",
        r"(?P<quarter>[1-4])q[ /-]?(?P<year>\d{4}|'?\d{2})",
        rf"(?P<quarter>[1-4])(?:st|nd|rd|th|\.) (?:quarter|quartal)(?: of)? {_YEAR}",
        r"(?P<year>\d{4})[ -]?q(?P<quarter>[1-4])",
        rf"(?P<year>\d{{4}}){_NEXT}",
        r"(?P<year>\d{4})",
        rf"(?:{_AGO} ago|vor {_AGO.replace('count', 'count2').replace('unit', 'unit2')})",
    )
]
_BARE_SEASON = re.compile(rf"(?:(?:last|this|letzten|letztes|diesen) )?(?:{_PART})?{_SEASON}")
_NUMERIC_DAY = re.compile(r"(\d{1,2})([./-]) ?(\d{1,2})\2 ?(\d{4}|\d{2})")


def read_rough_day(text, on, order=DayOrder.NOT_SAID):
    """The ApproximateDate that a text names; `on`: the day on which it was written. `order` of the numbers in it.

    ValueError, with a sentence that says what to write instead, where it names none or may name two.
    """
    plain, is_rough = _plain(text)
    try:
        span = _relative(plain, on) or _numeric_day(plain, order) or _named(plain, on)
    except _Asked as asked:
        raise ValueError(str(asked)) from asked
    except ValueError:
        span = None
    if span is None or span.first.year < USUAL_FROM_YEAR:
        sentence = f"“{text.strip()}” is not a day, month or year since {USUAL_FROM_YEAR}"
        raise ValueError(f"{sentence}: write 12 March 2024, March 2024, spring 2024, or 2024.")
    return span_of(span.first.year, span.first.month) if is_rough and span.exact else span


class _Asked(ValueError):
    """Two things can be meant; the sentence names them."""


def _plain(text):
    """(the text in small letters without what only says that it is rough, whether that was said)."""
    plain = " ".join(text.replace("–", "-").replace("’", "'").casefold().split())
    bare = plain.removesuffix("?").strip()
    said = bare != plain
    bare = _LEADING.sub("", bare, count=1) if _LEADING.match(bare) else bare
    if found := _ABOUT.match(bare):
        bare, said = bare[found.end() :], True
    bare = _LEADING.sub("", bare, count=1) if _LEADING.match(bare) else bare
    return _TIME.sub("", _WEEKDAY.sub("", bare, count=1) if _WEEKDAY.match(bare) else bare), said


def _numeric_day(plain, order):
    """The day of numbers alone; None for what is no such day. Between dots the day stands first."""
    found = _NUMERIC_DAY.fullmatch(plain)
    if found is None:
        return None
    year = _year(found[4])
    first, second = int(found[1]), int(found[3])
    in_order = {DayOrder.DAY_FIRST: [(first, second)], DayOrder.MONTH_FIRST: [(second, first)]}
    if found[2] == "." and (order or len(found[4]) == 4):
        order = DayOrder.DAY_FIRST
    meant = in_order.get(order) or dict.fromkeys([(first, second), (second, first)])
    days = [date(year, month, day) for day, month in meant if 1 <= month <= MONTHS_A_YEAR and day]
    if not order and days and (len(days) > 1 or len(found[4]) == 2):
        words = " or ".join(f"{day.day} {day:%B %Y}" for day in days)
        why = "has two digits for the year" if len(found[4]) == 2 else "can be read in two ways"
        raise _Asked(f"“{plain}” {why}: write {words}.")
    return ApproximateDate(days[0], days[0]) if days else _no_month(plain)


def _relative(plain, on):
    """Of words that only say how long ago."""
    days = {"today": 0, "heute": 0, "yesterday": 1, "gestern": 1}
    if plain in days:
        day = on - timedelta(days=days[plain])
        return ApproximateDate(day, day)
    months = {"this month": 0, "last month": -1, "diesen monat": 0, "letzten monat": -1}
    if plain in months:
        return _month_of(months_after(on, months[plain]))
    years = {"this year": 0, "last year": -1, "dieses jahr": 0, "letztes jahr": -1}
    if plain in years:
        return span_of(on.year + years[plain])
    return None


def _named(plain, on):
    _ask_which_season(plain, on)
    found = next(filter(None, (shape.fullmatch(plain) for shape in _SHAPES)), None)
    if found is None:
        return None
    parts = {name.rstrip("2"): value for name, value in found.groupdict().items() if value is not None}
    if "count" in parts:
        return _ago(parts, on)
    year = _year(parts["year"])
    if "season" in parts:
        return _season(plain, parts, year)
    if "next" in parts:
        return _two_years(year, parts["next"])
    return _part_of(year, parts, plain)


def _part_of(year, parts, plain):
    """The day, month, quarter or end of this year that is named, or the year."""
    if "week" in parts:
        return week_of(year, int(parts["week"]))
    if "quarter" in parts:
        return span_of(year, 3 * int(parts["quarter"]) - 2, 3)
    month = _month(parts)
    if "day" in parts:
        day = date(year, month, int(parts["day"]))
        return ApproximateDate(day, day)
    if month is None and "part" in parts:
        return span_of(year, _PARTS[parts["part"]], 3)
    if len(parts["year"]) == 2 and "month" in parts and int(parts["year"]) <= 12:
        raise _Asked(f"“{plain}” can be read in several ways: write {date(year, month, 1):%B %Y}, if you mean that.")
    return span_of(year, month)


def _ask_which_season(plain, on):
    """Of what has no year."""
    if found := _BARE_SEASON.fullmatch(plain):
        name = found["season"]
        example = f"{name} {on.year - 1}" + (f"/{on.year % 100:02d}" if name == "winter" else "")
        raise _Asked(_SOME_YEAR.format(plain, name, example))


def _ago(parts, on):
    count = _COUNTS.get(parts["count"]) or int(parts["count"])
    if count > _LONGEST_AGO * 12:
        raise ValueError(count)
    if parts["unit"].startswith("mon"):
        return _month_of(months_after(on, -count))
    return span_of(on.year - count)


def _season(plain, parts, year):
    if parts["season"] != "winter":
        if "next" in parts:
            return None
        return span_of(year, _SEASONS[parts["season"]], 3)
    if "next" in parts:
        following = _year_after(year, parts["next"])
        return following and span_of(year, 12, 3)
    one, other = (span_of(first, 12, 3) for first in (year - 1, year))
    raise _Asked(f"“{plain}” can be two winters: write {span_in_words(one)} or {span_in_words(other)}.")


def _two_years(year, following):
    return two_years(year + 1) if _year_after(year, following) else None


def _year_after(year, following):
    """Whether the second of two years, of four digits or two, follows the first."""
    return int(following) in (year + 1, (year + 1) % 100 if len(following) == 2 else year + 1)


def _year(text):
    digits = text.removeprefix("'")
    return int(digits) if len(digits) == 4 else year_of_two_digits(int(digits))


def _month(parts):
    if "name" in parts:
        return _MONTHS[parts["name"][:3]] if parts["name"][:3] in _MONTHS else _no_month(parts["name"])
    return int(parts["month"]) if "month" in parts else None


def _no_month(name):
    raise ValueError(name)


def _month_of(day):
    first = first_of_month(day)
    return span_of(first.year, first.month)
