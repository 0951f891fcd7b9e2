"""What a number or a day may be: one table for models, forms and files.

Outside *absurd* a value is refused wherever it comes from; within, but outside *unusual*, it is likely a slip of the
hand: a form asks before it saves, `load` and the page *Files* refuse it until somebody says that it is meant. Rows of
readings and instruments stand in `inspections/limits.py`. Where no reason is given beside a row, it is common practice,
no source.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from django.core.exceptions import ValidationError

from .figures import short_day

# Columns of whole numbers end here on PostgreSQL; a pool may move there.
SMALL_COLUMN = 32_767
# Beyond these a year was not typed as meant: 0026, 0202, 20260.
FIRST_YEAR, LAST_YEAR = 1900, 2199
# No mat and no record of one is older.
USUAL_FROM_YEAR = 1950
# Races are announced a season or two ahead; a loan may be agreed for longer.
YEARS_AHEAD = 3
# A longer loan is an event each season.
LONGEST_EVENT_DAYS = 366
# A sheet at a gate is seen by many: a season at most, and mostly some weekends.
LONGEST_LINK_DAYS = 366
USUAL_LINK_DAYS = 28


@dataclass(frozen=True)
class Slip:
    """A way to mistype: the value was typed in `unit` and is `meant(typed)`; no unit: the decimal point was lost."""

    unit: str
    meant: Callable[[float], float]


def _times(factor, unit=""):
    return Slip(unit, lambda typed: typed * factor)


IN_CM, IN_MM = _times(1 / 100, "cm"), _times(1 / 1000, "mm")
NO_POINT = (_times(1 / 10), _times(1 / 100))


@dataclass(frozen=True)
class Limit:
    """One quantity. Each of the four numbers itself still belongs to what is allowed, or usual.

    `asks`: in forms and files; the loss of a reading asks in its row at the bench.
    """

    kind: str
    unit: str
    absurd_below: float
    unusual_below: float
    unusual_above: float
    absurd_above: float
    slips: tuple[Slip, ...] = ()
    whole: bool = False
    asks: bool = True

    def check(self, value):
        """Refuse an absurd value, or one of a list."""
        for each in map(_as_float, value if isinstance(value, list) else [value]):
            if not math.isfinite(each) or not self.absurd_below <= each <= self.absurd_above:
                raise ValidationError(self._refusal(each), code="limit")

    def unusual(self, value, on=None):
        """What is usual, and what may have been meant; "" for a usual value. For a list: of its first unusual one."""
        if isinstance(value, list):
            found = ((each, self.unusual(each)) for each in value)
            return next((f"{each:.12g}: {said}" for each, said in found if said), "")
        if not self.asks or self.unusual_below <= value <= self.unusual_above:
            return ""
        span = f"{self.unusual_below:g} to {self.unusual_above:g}{self._unit}"
        return f"{self._a_kind} is mostly {span}.{self._meant(value)}"

    def _refusal(self, value):
        if value < self.absurd_below and (self.whole or self.absurd_below == 0):
            return f"Write {self.absurd_below:g} or a number above it."
        if self.whole:
            return f"Write {self.absurd_above:g} or a number below it."
        of = f" of {self.unit}" if self.unit else ""
        span = f"{self.absurd_below:g} to {self.absurd_above:g}"
        above = "Write a number above 0. " if value <= 0 < self.absurd_below else ""
        return f"{above}{self._a_kind} is a number{of} from {span}.{self._meant(value) if math.isfinite(value) else ''}"

    def _meant(self, value):
        """The question which of the slips it was, of those that give a usual value."""
        meant = [(slip.meant(value), slip.unit) for slip in self.slips]
        usual = [(number, unit) for number, unit in meant if self.unusual_below <= number <= self.unusual_above]
        said = [f"{number:.4g}{self._unit}" + (f" ({value:.12g} {unit})" if unit else "") for number, unit in usual]
        return f" Did you mean {' or '.join(said[:2])}?" if said else ""

    @property
    def _unit(self):
        return f" {self.unit}" if self.unit else ""

    @property
    def _a_kind(self):
        return f"{'An' if self.kind[0] in 'aeiou' else 'A'} {self.kind}"


def _as_float(number):
    """Four hundred digits are a whole number and beyond every float."""
    try:
        return float(number)
    except OverflowError:
        return math.inf if number > 0 else -math.inf


@dataclass(frozen=True)
class DayLimit:
    """A day on record. `ahead`: it may lie ahead, a few years; else rules refuse what is after today."""

    kind: str
    ahead: bool = False

    def check(self, day):
        if not FIRST_YEAR <= day.year <= LAST_YEAR:
            meant = _in_year(day, year_of_two_digits(day.year))
            hint = f" Did you mean {short_day(meant)}?" if meant else ""
            sentence = f"The year {day.year:04d} cannot be right: write one from {FIRST_YEAR} to {LAST_YEAR}."
            raise ValidationError(sentence + hint, code="limit")

    def unusual(self, day, on):
        """What is usual, and what may have been meant; "" for a usual day."""
        if self._is_usual(day, on):
            return ""
        until = f"{YEARS_AHEAD} years ahead" if self.ahead else "today"
        meant = [found for year in _years_meant(day.year) if (found := _in_year(day, year))]
        nearer = [found for found in meant if self._is_usual(found, on) and abs(found - on) < abs(day - on)]
        hint = f" Did you mean {short_day(min(nearer, key=lambda found: abs(found - on)))}?" if nearer else ""
        return f"A {self.kind} is mostly from {USUAL_FROM_YEAR} to {until}.{hint}"

    def _is_usual(self, day, on):
        last = (on.year + YEARS_AHEAD, on.month, on.day)
        return day.year >= USUAL_FROM_YEAR and (not self.ahead or (day.year, day.month, day.day) <= last)


def year_of_two_digits(year):
    """The year that the last two digits of this one are written for."""
    return year % 100 + (2000 if year % 100 < USUAL_FROM_YEAR % 100 else 1900)


def _years_meant(year):
    """Years that are typed as this one by a slip: another century, two digits changed about."""
    digits = f"{year:04d}"
    swapped = (digits[:at] + digits[at + 1] + digits[at] + digits[at + 2 :] for at in range(3))
    return [year_of_two_digits(year), *map(int, swapped)]


def _in_year(day, year):
    try:
        return day.replace(year=year)
    except ValueError:
        return None


# Shorter than its two connectors nobody makes one, and a whole drum is no segment. Mats are 1 to 6 m wide and their
# cables run along them; a feeder cable may be longer.
CABLE_LENGTH = Limit("cable length", "m", 0.005, 0.05, 20, 1000, (IN_CM, IN_MM))
# A lane is a metre wide, the widest road a dozen.
MAT_WIDTH = Limit("mat width", "m", 0.05, 0.3, 20, 200, (IN_CM, IN_MM))
FOLD_DISTANCE = Limit("fold line", "m", 0.001, 0.05, 20, 200, (IN_CM, IN_MM))
# Two people carry 80 kg.
MAT_WEIGHT = Limit("mat weight", "kg", 0.01, 0.5, 80, 2000, (_times(1 / 1000, "g"),))
# Feeders as thick as a wrist have 0.03 dB/m at 1 GHz, coax of 1 mm has 3; makers state it for 100 m too.
ATTENUATION = Limit("attenuation", "dB/m", 0.001, 0.02, 4, 50, (_times(1 / 100, "dB per 100 m"),))
# 1 is the speed of light; solid dielectrics have 0.66 to 0.7, foamed ones up to 0.9.
VELOCITY_FACTOR = Limit("velocity factor", "", 0.1, 0.5, 1, 1, (_times(1 / 100, "%"),))
BEND_RADIUS = Limit("bend radius", "mm", 0.1, 2, 300, 5000, (_times(10, "cm"), _times(1000, "m")))
# Small threads take 0.3 to 1.7 N·m. 1 lbf·in = 0.113 N·m (NIST SP 811, B.8).
TORQUE = Limit("torque", "N·m", 0.01, 0.1, 5, 200, (_times(1 / 100, "N·cm"), _times(0.1129848, "lbf·in")))
SPANNER = Limit("spanner", "mm", 1, 4, 36, 200, (_times(25.4, "in"), _times(10, "cm")))
# Twenty metres of thin coax lose less than 10 dB below 500 MHz; nobody fits a cable that is worse when it is new.
AS_NEW_LOSS = Limit("as-new loss", "dB", 0.001, 0.02, 10, 100, NO_POINT)
# Thirty years of 50 weekends.
EVENTS_BEFORE = Limit("number of events", "", 0, 0, 1500, 1_000_000, whole=True)
# Three days and nights; none is longer than the longest event.
HOURS_OUT = Limit("number of hours", "", 0, 0, 72, LONGEST_EVENT_DAYS * 24, (_times(1 / 60, "minutes"),))
FOLD_CYCLES = Limit("number of folds", "", 0, 0, 50, SMALL_COLUMN, whole=True)
# A loan over a year, out every other day; ten a day on each day of the longest event.
COUNTS_FOR = Limit("number of events", "", 1, 1, 200, 3660, whole=True)
# An estimate of somebody without records; no day has more than one that counts.
EVENTS_A_YEAR = Limit("number of events a year", "", 0, 0, 366, 366, whole=True)
# As many in a month; a loan counts in the month in which it starts.
EVENTS_A_MONTH = Limit("number of events a month", "", 0, 0, 31, 3660, whole=True)
POSITION = Limit("position", "", 1, 1, 30, 100, whole=True)
# Readings of a segment on one day, faults of a mat on one day.
NUMBER_OF_DAY = Limit("number of a day", "", 1, 1, 100, 1000, whole=True)
WEEKS_APART = Limit("number of weeks", "", 1, 1, 26, 52, whole=True)
DAYS_LONG = Limit("number of days", "", 1, 1, 31, LONGEST_EVENT_DAYS, whole=True)

# A box holds some hundreds of cables; a drum of them nobody counts by hand.
SHELF_COUNT = Limit("number of cables", "", 0, 0, 500, 10_000, whole=True)
SHELF_CHANGE = Limit("change of the shelf", "", -10_000, -500, 500, 10_000, whole=True)
SETS = Limit("number of sets", "", 1, 1, 50, 500, whole=True)
# What the pool pays in nobody knows here: a number is odd only where no column holds it.
PRICE = Limit("price", "", 0.01, 0.01, 1_000_000, 99_999_999)
# Half a year for a cable that is made to order; nobody waits for three.
LEAD_TIME = Limit("lead time", "days", 0, 0, 180, 1100, whole=True)

DAY_PASSED = DayLimit("day")
DAY_AHEAD = DayLimit("day", ahead=True)
EVENT_DAY = DayLimit("day of an event", ahead=True)
