"""A work order made ready for paper: what its template needs, on the page and in a file that stands alone."""

import re

from django.template.loader import render_to_string

from ..choices import TELLABLE
from ..static_files import joined_styles
from .bulk_tables import BundleMatTable, PartsTable
from .bundle_selectors import lines_to_do, parts_of, tools_of
from .mat_chart import ROW, TIGHT_ROW, PositionToDraw, mat_drawing
from .photo_selectors import photos_on, photos_still_there
from .remarks import ROOM, remarks_in_short
from .selectors import told_of
from .sheets import is_estimated, parts_to_pull
from .tables import OrderLineTable

# up to so many cables leave room to write large; more than so many fit on one sheet only when rows move closer
FEW = 4
MANY = 6
# a drawing of more positions has its rows closer together
TALL = 6
# written by its number in a text of a style sheet, which it might end
SIGN = re.compile(r"[^\w -]", re.ASCII)
TITLE, HEAD_BYTES = b"<title>Work order ", 1_000


def sheet_context(order, on, told=None, photos=None):
    """`told`: as `told_of` gives it for the lines of this order, at least; None: it is looked up.

    `photos` likewise, as `photos_still_there` gives them.
    """
    sheet, lines = order.sheet, list(order.lines.all())
    photos = photos_still_there([sheet]) if photos is None else photos
    answered = {line.position for line in lines if line.is_answered}
    parts = parts_to_pull(sheet, answered)
    positions = [_to_draw(position, answered) for position in sheet["positions"]]
    tight = len(sheet["positions"]) > TALL
    row, mark = (TIGHT_ROW, 14) if tight else (ROW, 18)
    spacing = "roomy" if len(lines) <= FEW else "dense" if len(lines) > MANY else ""
    return {
        "order": order,
        "sheet": sheet,
        "lines": lines,
        "status": order.state_on(on),
        "may_be_told": order.state_on(on) in TELLABLE,
        "table": OrderLineTable(lines, sheet, told_of(lines) if told is None else told),
        "spacing": spacing,
        "tight": tight,
        "parts": parts,
        "measure_first": any(is_estimated(part) for part in parts),
        "drawing": mat_drawing(sheet["width_m"], sheet["folds_m"], positions, mark=mark, row=row),
        "remarks": remarks_in_short(sheet, ROOM[spacing]),
        "photos": photos_on(sheet, photos),
        "name": order.mat.number,
        "id_end": f"-{order.pk}",
    }


def bundle_context(orders, on):
    """Orders as one document: parts, tools and mats of all in front, then what each sheet needs."""
    told = told_of([line for order in orders for line in order.lines.all()])
    photos = photos_still_there([order.sheet for order in orders])
    for order in orders:
        order.to_do = len(lines_to_do(order, on))
    parts = parts_of(orders, on)
    return {
        "on": on,
        "orders": orders,
        "sheets": [sheet_context(order, on, told, photos) for order in orders],
        "parts": PartsTable(parts),
        "cables": sum(order.to_do for order in orders),
        "missing": sum(part.missing for part in parts),
        "measure_first": any(part.estimated for part in parts),
        "tools": tools_of(orders),
        "mats": BundleMatTable(orders),
    }


def page_foot(order):
    """A style sheet: the margins of an order that is printed alone, and its number at the foot of each page."""
    return f"@page {{ margin: 6mm 12mm 9mm; {_foot(order)} }}\n"


def page_feet(orders):
    """The same for orders in one document, each on pages of its own.

    Not for one alone: with a name for the first page of all, browsers sometimes print an empty one before it.
    """
    pages = [f"@page order-{o.pk} {{ {_foot(o)} }}\n#order-{o.pk} {{ page: order-{o.pk}; }}\n" for o in orders]
    return "".join(["@page { margin: 7mm 12mm 10mm; }\n", *pages])


def _foot(order):
    return foot_box(f"Work order {order}")


def foot_box(text):
    """A rule of a style sheet: these words, a number among them, at the foot of a page."""
    written = SIGN.sub(lambda sign: f"\\{ord(sign[0]):x} ", text)
    return f'@bottom-left {{ content: "{written}"; font: 8pt Arial, sans-serif; }}'


def stand_alone_sheet(order, on):
    """The page as one HTML text with the style sheet inside: it opens and prints anywhere."""
    photos = photos_still_there([order.sheet])
    context = sheet_context(order, on, photos=photos) | {"style": joined_styles() + page_foot(order)}
    context["photos"] = photos_on(order.sheet, photos, embedded=True)
    return render_to_string("inspections/workshop/work_order.html", context)


def is_stand_alone_sheet(path):
    """Whether a file is one that was written here before; any other is somebody's own."""
    with path.open("rb") as stream:
        return TITLE in stream.read(HEAD_BYTES)


def _to_draw(position, answered):
    return PositionToDraw(
        position["position"],
        position["length_m"],
        marked=position["change"] and position["position"] not in answered,
        empty=not position["segment"],
        estimated=is_estimated(position),
    )
