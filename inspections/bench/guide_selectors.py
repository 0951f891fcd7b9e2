"""What a first reading should be: fresh cables of each length and type that mats in use are built with."""

from dataclasses import dataclass

from fleet.models import CableType, DesignPosition
from fleet.models.withdrawable import in_use

from ..numeric.decibels import typical_loss_db
from ..numeric.methods import REFLECTION_UNCERTAINTY_DB
from ..numeric.verdicts import most_of_fresh_db
from .fresh_selectors import fresh_losses


@dataclass(frozen=True)
class FirstReading:
    """Of one cable type and length, losses in dB; `expected_db` None: not known.

    `through_most_db`: up to what a fresh one reads through; `shown_db`, `shown_most_db`: the same as an instrument
    with one port shows it, which is the return loss. `calculated_db` is that of the two-term law, None where nobody
    said which cable it is; `ones`: of how many fresh ones `expected_db` is the median, 0: it is the calculated one.
    """

    cable_type: CableType
    length_m: float
    expected_db: float | None
    ones: int
    calculated_db: float | None
    through_most_db: float | None
    shown_db: float | None
    shown_most_db: float | None


def first_readings(criteria, on):
    """A FirstReading for each pair of cable type and length in the designs of mats in use, by type and length."""
    fresh = fresh_losses(_kinds_in_use(on), criteria, on)
    return [_first_reading(*kind, loss, criteria) for kind, loss in fresh.items()]


def _kinds_in_use(on):
    positions = DesignPosition.objects.filter(in_use(on, "design__mats"), design__mats__isnull=False)
    positions = positions.select_related("cable_type").order_by("cable_type__name", "length_m").distinct()
    return list(dict.fromkeys((position.cable_type, position.length_m) for position in positions))


def _first_reading(cable_type, length_m, fresh, criteria):
    expected_db = fresh.expected_db
    known = expected_db is not None
    by_reflection_db = max(criteria.uncertainty_db, REFLECTION_UNCERTAINTY_DB)
    return FirstReading(
        cable_type=cable_type,
        length_m=length_m,
        expected_db=expected_db,
        ones=fresh.ones,
        calculated_db=_calculated_db(cable_type, length_m, criteria.reference_mhz),
        through_most_db=float(most_of_fresh_db(expected_db, criteria.uncertainty_db)) if known else None,
        shown_db=2 * expected_db if known else None,
        shown_most_db=2 * float(most_of_fresh_db(expected_db, by_reflection_db)) if known else None,
    )


def _calculated_db(cable_type, length_m, reference_mhz):
    if cable_type.is_assumed:
        return None
    return float(typical_loss_db(length_m, cable_type.db_per_m_400mhz, cable_type.db_per_m_1000mhz, reference_mhz))
