"""Mats of which nothing is on record, with their cables and their usual use as the keeper gave it."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.core.exceptions import ValidationError

from ..choices import AcquiredBasis, FittedBasis, LengthBasis, LoadSource, SerialBasis
from ..models import CableSegment, CableType, Fitting, Load, Mat, UsageEvent
from ..models.fields import code_key
from ..models.segments import ASSUMED_CABLE
from ..selectors.designs import design_built_so
from ..selectors.numbering import free_design_code, next_free_serials
from ..selectors.usual_use import YEAR_DAYS
from ..signals import wear_changed
from .designs import add_design
from .locks import hold_pool
from .races import race_refused
from .rows import add_row
from .usual_use import usual_use_of

BATCH = 2_000
# Those of 2.5 mm coax of the RG-316 kind, within the spread of open tables (0.558 to 0.607 dB/m at 400 MHz, 0.905 to
# 1.017 at 1 GHz); no due date rests on them.
ASSUMED_DB_PER_M = {"db_per_m_400mhz": 0.57, "db_per_m_1000mhz": 0.95}


@dataclass(frozen=True)
class MatGroup:
    """Mats of one build and one history. `lengths_m` by position; nobody measured those of the `estimated` positions.

    `times_a_year` None: nobody knows how often they go out.
    """

    width_m: float
    lengths_m: tuple[float, ...]
    numbers: tuple[str, ...]
    fitted_on: date
    basis: str
    acquired_on: date | None = None
    acquired_basis: str = AcquiredBasis.KNOWN
    times_a_year: int | None = None
    estimated: frozenset[int] = frozenset()

    def length_basis(self, position):
        return LengthBasis.ESTIMATED if position in self.estimated else LengthBasis.KNOWN


def register_mats(groups, *, by, on):
    """Store the mats of these groups with a segment in each position, and their usual use; returns the Load.

    A design in use that has exactly these cables is theirs, else a new one. The use of the year up to `on` becomes
    usual use, so that each mat's rate is what was given, and gives way month by month to what is logged. What lies
    before that year goes into `events_before` of the segments. All rows name the Load, so that they can be taken back
    together. Refused when one of the mats is on record already.
    """
    with race_refused("Somebody else has just added one of these mats or cables. Send it again."):
        hold_pool()
        refuse_known([number for group in groups for number in group.numbers])
        load = Load.objects.create(loaded_by=by, source=LoadSource.START_HERE)
        segments = [segment for group in groups for segment in _register_group(group, load, by, on)]
        wear_changed.send(sender=Load, segment_ids=[segment.pk for segment in segments], on=on)
    return load


def refuse_known(numbers):
    """ValidationError that names those of these mats that are on record."""
    existing = Mat.objects.filter(number_key__in=[code_key(number) for number in numbers])
    known = list(existing.order_by("number").values_list("number", flat=True))
    if known:
        raise ValidationError({"mats": f"On record already: {', '.join(known[:10])}. Leave these numbers out."})


def _register_group(group, load, by, on):
    """The segments of the group, stored with all that belongs to them."""
    written = {"recorded_by": by, "load": load}
    cable_type = _assumed_cable(load, by)
    design = _design_of(group, cable_type, load, by, on)
    acquired = {"acquired_on": group.acquired_on, "acquired_basis": group.acquired_basis}
    mats = Mat.objects.bulk_create(
        [Mat(number=number, design=design, **acquired, **written) for number in group.numbers], batch_size=BATCH
    )
    segments = _fit_all(mats, group, cable_type, written, on)
    usual = usual_use_of(mats, group.times_a_year or 0, by=by, on=on, load=load)
    UsageEvent.objects.bulk_create(usual, batch_size=BATCH)
    return segments


def _assumed_cable(load, by):
    row = CableType.objects.named(ASSUMED_CABLE).first()
    return row or add_row(CableType, by=by, name=ASSUMED_CABLE, load=load, **ASSUMED_DB_PER_M)


def _design_of(group, cable_type, load, by, on):
    built = (group.width_m, group.lengths_m, group.estimated, cable_type)
    if design := design_built_so(*built, on):
        return design
    code = free_design_code(f"{group.width_m:g} m, {len(group.lengths_m)} cables")
    built = {"lengths_m": group.lengths_m, "estimated": group.estimated, "cable_type": cable_type}
    return add_design(by=by, code=code, width_m=group.width_m, load=load, **built)


def _fit_all(mats, group, cable_type, written, on):
    serials = iter(next_free_serials(len(mats) * len(group.lengths_m)))
    before = events_before(group, on)
    places = [(mat, position, length_m) for mat in mats for position, length_m in enumerate(group.lengths_m, 1)]
    segments = CableSegment.objects.bulk_create(
        [
            CableSegment(
                serial=next(serials),
                cable_type=cable_type,
                length_m=length_m,
                serial_basis=SerialBasis.GIVEN,
                length_basis=group.length_basis(position),
                events_before=before,
                **written,
            )
            for _, position, length_m in places
        ],
        batch_size=BATCH,
    )
    fitted = {"fitted_on": group.fitted_on, "fitted_basis": group.basis, **written}
    Fitting.objects.bulk_create(
        [
            Fitting(segment=segment, mat=mat, position=position, **fitted)
            for segment, (mat, position, _) in zip(segments, places, strict=True)
        ],
        batch_size=BATCH,
    )
    return segments


def events_before(group, on):
    """Events of a segment before the last year at the given rate; None where nothing is known of that time."""
    days = (on - timedelta(days=YEAR_DAYS) - group.fitted_on).days
    if group.times_a_year is None or (group.basis == FittedBasis.NOT_LATER_THAN and group.fitted_on == on):
        return None
    return round(group.times_a_year * max(days, 0) / YEAR_DAYS)
