"""Rows that name what did not come in, because a cell of it cannot be read: they are listed, and the rest goes on."""

from fleet.intake import kinds
from fleet.intake.files import (
    CABLE_TYPES,
    DEPOTS,
    EVENTS,
    FILE_ABOUT,
    FITTINGS,
    MAT_DESIGNS,
    MATS,
    NOTES,
    POSITIONS,
    SEGMENTS,
)
from fleet.models.fields import code_key

from ...files.sets import INSTRUMENTS, LAYOUTS


def drop_orphans(making):
    """In the order in which files are stored, so that what names a dropped row is dropped with it."""
    codes = _known(making)
    for layout in LAYOUTS:
        for key, row, origin in making.rows.rows_of(layout.file):
            lacking = _lacking(layout, row, codes)
            if lacking:
                _drop(making, layout, key, row, origin, lacking)
            else:
                codes.setdefault(layout.file, set()).add(key[0])
        if layout is POSITIONS:
            places = _places(making)
        if layout is FITTINGS:
            _drop_without_place(making, places)


def _known(making):
    known = making.register.known
    stored = {
        MATS.file: (mat.number for mat in known.mats),
        MAT_DESIGNS.file: (design.code for design in known.designs),
        CABLE_TYPES.file: known.cable_types,
        SEGMENTS.file: (cable.serial for cable in known.cables),
        EVENTS.file: (code for code, *_ in known.events),
        INSTRUMENTS.file: known.instruments,
    }
    return {file: {code_key(kinds.guarded(code)) for code in codes} for file, codes in stored.items()}


def _lacking(layout, row, codes):
    """The column whose code nothing has; "" where all are there."""
    for column in layout.columns:
        file = FILE_ABOUT[row["about"]] if layout is NOTES and column.about else column.refers_to
        text = row.get(column.name)
        if text and file and file != DEPOTS.file and code_key(text) not in codes.get(file, ()):
            return column.name
    return ""


def _drop(making, layout, key, row, origin, lacking):
    making.rows.drop(layout.file, key)
    column = origin.columns.get(lacking, min(origin.columns.values(), default=0))
    making.leave_unread(origin.sheet, origin.row, column, row[lacking], f"a {lacking} that could be read")


def _places(making):
    """{(key of a design, position)} of all that are there."""
    stored = {
        (code_key(kinds.guarded(design.code)), str(position))
        for design in making.register.known.designs
        for position in design.places
    }
    return stored | {(code_key(row["design"]), row["position"]) for _, row, _ in making.rows.rows_of(POSITIONS.file)}


def _drop_without_place(making, places):
    """A cable is in a position that the design of its mat has; one that came out may have been in another."""
    for key, row, origin in making.rows.rows_of(FITTINGS.file):
        mat = making.register.mat(kinds.unguarded(row["mat"]))
        place = code_key(kinds.guarded(mat.design)), row["position"]
        if place not in places and not row.get("removed_on"):
            making.rows.drop(FITTINGS.file, key)
            column = origin.columns.get("position", 0)
            expected = f"a position of its build, {mat.design}"
            making.leave_unread(origin.sheet, origin.row, column, row["position"], expected)
