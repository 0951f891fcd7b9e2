"""What each cable of a mat is expected to read: by its own readings so far, else as a fresh one of its kind."""

from dataclasses import dataclass
from math import sqrt

from ..assessment.policy_in_force import current_policy
from ..models import Measurement
from ..numeric.calendar import DAYS_A_YEAR
from ..numeric.verdicts import FRESH_MARGIN_DB
from ..numeric.words import Method, TrendFrom
from .fresh_selectors import fresh_losses


@dataclass(frozen=True)
class Expected:
    """Reference loss in dB with its standard deviation. `by_own`: by its own readings; else this is its first session,
    and a fresh one of its length and type reads so."""

    loss_db: float
    sd_db: float
    by_own: bool


def expected_losses(rows, day, criteria):
    """{segment's key: Expected} of BenchRows on that day, where something is known; as many queries for one as for
    many.

    By its trend as it was last assessed, readings of that day included; without one, by its newest reading.
    """
    years = not current_policy().value("wear_by_events")
    rows = [row for row in rows if row.segment is not None]
    expected = {row.segment.pk: _by_own(row.assessment, day, years) for row in rows}
    new = [row.segment for row in rows if expected[row.segment.pk] is None]
    fresh = fresh_losses([(cable.cable_type, cable.length_m) for cable in new], criteria, day) if new else {}
    for cable in new:
        loss_db = fresh[cable.cable_type, cable.length_m].expected_db
        # two fresh ones differ by that margin at most, which is two standard deviations
        expected[cable.pk] = None if loss_db is None else Expected(loss_db, FRESH_MARGIN_DB / 2, by_own=False)
    return {key: known for key, known in expected.items() if known}


def _by_own(assessment, day, years):
    if assessment is None:
        return None
    if assessment.trend_from == TrendFrom.OWN and assessment.trend_rate_db is not None:
        # events since then are not counted here: they are few beside the uncertainty of the reading
        ahead = (day - assessment.trend_level_on).days / DAYS_A_YEAR if years and assessment.trend_level_on else 0.0
        variance = assessment.trend_c00 + ahead * (2 * assessment.trend_c01 + ahead * assessment.trend_c11)
        return Expected(assessment.trend_level_db + assessment.trend_rate_db * ahead, sqrt(max(variance, 0.0)), True)
    if assessment.reference_loss_db is not None:
        return Expected(assessment.reference_loss_db, assessment.loss_uncertainty_db, True)
    return None


def earlier_on_element(rows, day, instrument):
    """{segment's key: its newest reading on its element with that instrument, made before that day}; one query."""
    cables = [row.segment for row in rows if row.segment is not None]
    readings = Measurement.objects.valid_on(day).filter(
        segment__in=cables, measured_on__lt=day, method=Method.ON_ELEMENT, instrument=instrument, loss_db__isnull=False
    )
    return {reading.segment_id: reading for reading in readings.order_by("measured_on", "repeat")}
