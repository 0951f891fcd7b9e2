"""What nobody but the keeper can know of a sheet: the order of days, its year, how a build is made."""

from dataclasses import dataclass

from fleet.models.fields import code_key
from fleet.parsing.day_orders import can_be_both, order_in

from ..meanings import BUILD, CABLES, DAY, LENGTHS, MAT, WIDTH, SheetKind
from ..reading.builds import build_of
from ..reading.sheet_texts import column_texts, day_texts, wide_headings
from .wide_headings import is_position

# builds that are asked about; who has more has a column for them
MOST_BUILDS = 20


@dataclass(frozen=True)
class AskedBuild:
    """A build that the pool does not have, by the name that the sheet gives it, with what its name tells."""

    name: str
    width_m: str = ""
    cables: str = ""


def day_that_can_be_both(workbook, meanings):
    """A text of the sheets that can be two days, where nothing tells which; "" where none is."""
    texts = sorted(day_texts(workbook, meanings))
    return "" if order_in(texts) else can_be_both(texts)


def lacks_day(sheet, meaning):
    """Whether a sheet of readings says nowhere on which day they were read."""
    if meaning.kind == SheetKind.READINGS:
        return DAY not in meaning.fields
    if meaning.kind != SheetKind.READINGS_WIDE or DAY in meaning.fields:
        return False
    return all(is_position(heading) for heading in wide_headings(sheet, meaning))


def builds_to_ask(sheet, meaning, known):
    """AskedBuilds of a sheet of mats: names that the pool does not know and whose make stands in no column.

    One without a name where the sheet says nothing of how its mats are made; none where the pool has all of them.
    """
    if meaning.kind != SheetKind.MATS or meaning.fields >= {WIDTH, LENGTHS} or _are_known(sheet, meaning, known):
        return []
    column = meaning.index_of(BUILD)
    if column is None:
        return [] if WIDTH in meaning.fields else [AskedBuild("")]
    builds = [(name, build_of(name)) for name in column_texts(sheet, meaning, column)]
    new = [(name, build) for name, build in builds if known.designs.isdisjoint(map(code_key, (name, build.code)))]
    return [_asked(name, build, meaning.fields) for name, build in new[:MOST_BUILDS]]


def _are_known(sheet, meaning, known):
    column = meaning.index_of(MAT)
    return column is not None and known.mats.issuperset(map(code_key, column_texts(sheet, meaning, column)))


def _asked(name, build, fields):
    """What the name tells is proposed, where the sheet has no column for it."""
    width_m = "" if WIDTH in fields or not build.width_m else f"{build.width_m:g}"
    return AskedBuild(name, width_m, "" if CABLES in fields or not build.count else str(build.count))
