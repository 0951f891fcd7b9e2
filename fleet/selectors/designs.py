"""Designs by what they are made of."""

from ..choices import LengthBasis
from ..models import MatDesign
from ..models.segments import SAME_LENGTH_M


def design_built_so(width_m, lengths_m, estimated, cable_type, on):
    """The oldest design in use with this width and exactly these cables; None where there is none.

    A length that is known here is known in the design too; one that is `estimated` here may be known there.
    """
    alike = MatDesign.objects.in_use(on).filter(width_m=width_m).prefetch_related("positions").order_by("pk")
    return next((design for design in alike if _has(design, lengths_m, estimated, cable_type)), None)


def _has(design, lengths_m, estimated, cable_type):
    places = sorted(design.positions.all(), key=lambda place: place.number)
    return [place.number for place in places] == list(range(1, len(lengths_m) + 1)) and all(
        place.cable_type_id == cable_type.pk
        and abs(place.length_m - length_m) < SAME_LENGTH_M
        and (place.length_basis == LengthBasis.KNOWN or place.number in estimated)
        for place, length_m in zip(places, lengths_m, strict=True)
    )
