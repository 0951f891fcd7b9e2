"""What nobody but the keeper can know of a sheet: the order of days, its year, how a build is made."""

import re
from dataclasses import dataclass

from fleet.models.fields import code_key
from fleet.parsing.day_orders import can_be_both, order_in

from .meanings import BUILD, CABLES, LENGTHS, WIDTH, SheetKind
from .sheet_texts import column_texts, day_texts

# builds that are asked about; who has more has a column for them
MOST_BUILDS = 20
_WIDTH_IN_NAME = re.compile(r"(?<![\d.,])(\d{1,2}(?:[.,]\d+)?) ?m(?:etres?|eters?)?(?![a-z])", re.IGNORECASE)
_CABLES_IN_NAME = re.compile(r"(?<![\d.,])(\d{1,3})(?: ?(?:x|×|cables?|kabel))?(?![\d.,]| ?m)", re.IGNORECASE)


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


def builds_to_ask(sheet, meaning, known):
    """AskedBuilds of a sheet of mats: names that the pool does not know and whose make stands in no column.

    One without a name where the sheet says nothing of how its mats are made.
    """
    if meaning.kind != SheetKind.MATS or meaning.fields >= {WIDTH, LENGTHS}:
        return []
    column = meaning.index_of(BUILD)
    if column is None:
        return [] if WIDTH in meaning.fields else [AskedBuild("")]
    names = dict.fromkeys(text for text in column_texts(sheet, meaning, column) if code_key(text) not in known.designs)
    return [_asked(name, meaning.fields) for name in list(names)[:MOST_BUILDS]]


def _asked(name, fields):
    width, rest = _WIDTH_IN_NAME.search(name), _WIDTH_IN_NAME.sub(" ", name)
    cables = _CABLES_IN_NAME.search(rest)
    return AskedBuild(
        name,
        width[1] if width and WIDTH not in fields else "",
        cables[1] if cables and width and CABLES not in fields else "",
    )
