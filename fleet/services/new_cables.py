"""A mat that comes with cables: one in each position of its design, by numbers that the app gives."""

from dataclasses import dataclass
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import SerialBasis
from ..models import CableSegment
from ..selectors.numbering import next_free_serials
from .fittings import Fit, fit_segments
from .locks import hold_pool
from .register import add_mat, segment_for
from .rows import add_row


@dataclass(frozen=True)
class ComesWith:
    """Since when its cables are in it, and how well that is known."""

    fitted_on: date
    basis: str


@transaction.atomic
def add_whole_mat(*, by, on, comes_with=None, **values):
    """Add a mat, and with `comes_with` a cable in each of its positions, all or nothing."""
    if comes_with:
        hold_pool()
    mat = add_mat(by=by, on=on, **values)
    if comes_with:
        _fit_all_positions(mat, comes_with, by, on)
    return mat


def _fit_all_positions(mat, comes_with, by, on):
    places = list(mat.design.positions.select_related("cable_type"))
    if not places:
        sentence = f"{mat.design} has no position yet. Add them on its page, or add the mat without cables."
        raise ValidationError({"cables": sentence})
    fits = [
        Fit(place.number, _cable_for(place, serial, by))
        for place, serial in zip(places, next_free_serials(len(places)), strict=True)
    ]
    fit_segments(mat, fits, by=by, on=on, fitted_on=comes_with.fitted_on, basis=comes_with.basis)


def _cable_for(place, serial, by):
    """In the mat when it came: it was never on the shelf."""
    return add_row(CableSegment, by=by, **segment_for(place, serial=serial, serial_basis=SerialBasis.GIVEN))
