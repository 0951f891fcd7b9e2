"""The data of a work order, stored when it is raised, so that the sheet never changes afterwards."""

from collections import Counter

from fleet.choices import LengthBasis

from .steps import cautions_for, steps_for


def sheet_of(mat, rows, fittings, *, notes=(), faults=()):
    """The sheet for changing the segments of `rows` (assessments of one mat). `fittings`: all current ones of the mat.

    `notes`, `faults`: open ones of the mat; damage of a cable to change is not repeated, its line says so. Its photos
    are.

    Lengths in metres are those of the design's positions: that is what goes in, whatever was in there.
    """
    design = mat.design
    wanted = {row.position for row in rows}
    positions = _positions(design, fittings, wanted)
    changed = [position for position in positions if position["change"]]
    return {
        "design": design.code,
        "width_m": design.width_m,
        "folds_m": design.folds_m,
        "weight_kg": design.weight_kg,
        "depot": mat.depot.name if mat.depot else "",
        "positions": positions,
        "notes": [{"text": note.text} for note in notes],
        "faults": [_fault(fault) for fault in faults if not (fault.is_of_cable and fault.position in wanted)],
        "photos": [{"sha256": photo.sha256, "of": fault.where} for fault in faults for photo in fault.photos.all()],
        "parts": _parts(changed),
        "tools": _tools(design, rows, {position["cable_type"] for position in changed}),
        "steps": steps_for(design.steps),
        "cautions": cautions_for(design.weight_kg),
    }


def _fault(fault):
    return {"where": fault.where, "what": fault.what}


def _positions(design, fittings, wanted):
    """Every position of the design, and any beyond it that holds a segment, in order."""
    fitted = {fitting.position: fitting.segment for fitting in fittings}
    planned = {position.number: position for position in design.positions.all()}
    return [
        _position(number, planned.get(number), fitted.get(number), number in wanted)
        for number in sorted({*fitted, *planned})
    ]


def is_estimated(stored):
    """Of a position or part of a stored sheet: nobody measured its length; sheets of before do not say."""
    return stored.get("length_basis") == LengthBasis.ESTIMATED


def _position(number, planned, segment, change):
    build = planned or segment
    return {
        "position": number,
        "segment": segment.serial if segment else "",
        "length_m": build.length_m,
        "length_basis": build.length_basis,
        "cable_type": build.cable_type.name,
        "change": change,
    }


def parts_to_pull(sheet, answered):
    """The parts of a stored sheet but for those positions, of which it was told what became of them."""
    if not answered:
        return sheet["parts"]
    return _parts([place for place in sheet["positions"] if place["change"] and place["position"] not in answered])


def _parts(changed):
    kinds = ("cable_type", "length_m", "length_basis")
    # sheets of before do not say where a length is from
    counted = Counter(tuple(position.get(name, "") for name in kinds) for position in changed)
    return [dict(zip(kinds, kind, strict=True)) | {"count": count} for kind, count in sorted(counted.items())]


def _tools(design, rows, names):
    """Spanner, torque window and bend radius of each cable type; None is not known, and is never filled in."""
    known = [position.cable_type for position in design.positions.all()] + [row.segment.cable_type for row in rows]
    types = {cable_type.name: cable_type for cable_type in known if cable_type.name in names}
    return [
        {
            "cable_type": name,
            "spanner_mm": cable_type.spanner_mm,
            "torque_min_nm": cable_type.torque_min_nm,
            "torque_max_nm": cable_type.torque_max_nm,
            "bend_radius_mm": cable_type.bend_radius_mm,
        }
        for name, cable_type in sorted(types.items())
    ]
