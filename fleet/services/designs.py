"""Mat designs with their positions, and the steps of work that belong to a design."""

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import LengthBasis
from ..models import DesignPosition, Fault, Fitting, Mat, MatDesign
from .locks import hold, hold_all
from .rows import add_row, correct_row


@transaction.atomic
def add_design(*, by, lengths_m, cable_type, estimated=(), **values):
    """A design with one position for each cable length in metres, from the feed end, all of one cable type.

    `estimated`: the positions whose length nobody measured.
    """
    design = add_row(MatDesign, by=by, **values)
    for number, length_m in enumerate(lengths_m, 1):
        position = DesignPosition(
            design=design,
            number=number,
            length_m=length_m,
            length_basis=LengthBasis.ESTIMATED if number in estimated else LengthBasis.KNOWN,
            cable_type=cable_type,
            recorded_by=by,
            load=design.load,
        )
        position.full_clean(exclude=["design"])
        position.save()
    return design


@transaction.atomic
def correct_design(design, *, by, reason="", seen_version=None, **values):
    """Width, folds, weight, steps or code. What is printed already stays as it was printed."""
    return correct_row(design, by=by, reason=reason, seen_version=seen_version, **values)


@transaction.atomic
def add_position(design, *, by, number, length_m, cable_type):
    """A new position; it is empty in every mat of the design until a cable is fitted."""
    hold(design)
    position = DesignPosition(design=design, number=number, length_m=length_m, cable_type=cable_type, recorded_by=by)
    if design.positions.filter(number=number).exists():
        raise ValidationError({"number": f"{design} has a position {number} already. Correct that one."})
    position.full_clean(validate_unique=False)
    position.save()
    return position


@transaction.atomic
def correct_position(position, *, by, reason="", seen_version=None, **values):
    """What the design specifies for the position. A cable that is fitted there keeps its own length and type."""
    hold(position.design, position)
    return position.correct(by=by, reason=reason, seen_version=seen_version, **values)


@transaction.atomic
def delete_position(position, *, by, reason, seen_version=None):
    """Delete a position that was added by mistake; what it said stays in the design's trail.

    Raises ValidationError where any mat of the design has, or had, a cable or a fault there, and when somebody else
    changed the position meanwhile. One that is deleted already stays so.
    """
    # no mat gets this design and nothing happens in its mats between the look and the act
    hold(position.design)
    mats = hold_all(Mat.objects.filter(design=position.design_id))
    if not DesignPosition.objects.filter(pk=position.pk):
        return position
    for model, what in ((Fitting, "a cable"), (Fault, "a fault")):
        existing = model.objects.filter(mat__in=mats, position=position.number).select_related("mat").first()
        if existing:
            raise ValidationError(
                f"{existing.mat.at_start} has, or had, {what} in position {position.number}: it stays."
            )
    position.delete_with_trail(by=by, reason=reason, seen_version=seen_version)
    return position
