"""What a fresh cable of a length and type should read, and whether a new one does."""

from dataclasses import dataclass
from statistics import median

from django.db.models import Exists, OuterRef, Q

from fleet.models import CableSegment, Fitting
from fleet.models.segments import SAME_LENGTH_M, of_length

from ..choices import Taken
from ..models import Measurement
from ..numeric.decibels import typical_loss_db
from ..numeric.verdicts import most_of_fresh_db
from ..numeric.words import Verdict
from .reading_selectors import judged, withheld_from

# fewer say less than what can be calculated from length and cable type
ENOUGH_FRESH = 5


@dataclass(frozen=True)
class FreshLoss:
    """Reference loss in dB that a fresh one should have: the median of so many fresh ones; `ones` 0: calculated.

    `expected_db` None: not known, as too few were read and nobody said which cable it is.
    """

    expected_db: float | None
    ones: int = 0


@dataclass(frozen=True)
class FreshJudgement:
    """A new cable judged twice: against the limit, and against a fresh one, which may read up to `most_db`.

    `most_db` None: what a fresh one reads is not known, so the limit alone decides.
    """

    judgement: object
    fresh: FreshLoss
    most_db: float | None

    @property
    def is_over(self):
        return self.judgement.verdict == Verdict.OVER

    @property
    def unlike_fresh(self):
        loss_db = self.judgement.reference_loss_db
        return None not in (loss_db, self.most_db) and loss_db > self.most_db

    @property
    def stops(self):
        """Not to be fitted without a reason."""
        return self.is_over or self.unlike_fresh


def judged_as_new(judgement, fresh):
    most_db = None
    if fresh.expected_db is not None:
        most_db = float(most_of_fresh_db(fresh.expected_db, judgement.uncertainty_db))
    return FreshJudgement(judgement, fresh, most_db)


def fresh_losses(kinds, criteria, on):
    """{(cable type, length in m): FreshLoss} of these pairs; as many queries for one as for many."""
    kinds = list(dict.fromkeys(kinds))
    losses = _measured_fresh(kinds, criteria, on)
    return {kind: _fresh_loss(kind, _losses_of(kind, losses), criteria) for kind in kinds}


def _fresh_loss(kind, losses, criteria):
    if len(losses) >= ENOUGH_FRESH:
        return FreshLoss(float(median(losses)), len(losses))
    cable_type, length_m = kind
    if cable_type.is_assumed:
        return FreshLoss(None)
    rates = cable_type.db_per_m_400mhz, cable_type.db_per_m_1000mhz
    return FreshLoss(float(typical_loss_db(length_m, *rates, criteria.reference_mhz)))


def _losses_of(kind, losses):
    cable_type, length_m = kind
    return [
        loss_db
        for type_id, other_m, loss_db in losses
        if type_id == cable_type.pk and abs(other_m - length_m) <= SAME_LENGTH_M
    ]


def _measured_fresh(kinds, criteria, on):
    """(cable type's key, length, reference loss) of each segment read when first fitted, else with an as-new loss."""
    readings = _fresh_readings(on).filter(_of_kinds(kinds, "segment")).select_related("segment", "instrument")
    read, withheld = {}, withheld_from(readings, on)
    for reading in readings:
        judgement = judged(reading, criteria, withheld)
        if judgement.compared and judgement.reference_loss_db is not None:
            kind = reading.segment.cable_type_id, reading.segment.length_m
            read.setdefault(reading.segment_id, (*kind, []))[-1].append(judgement.reference_loss_db)
    as_new = CableSegment.objects.filter(_of_kinds(kinds), as_new_loss_db__isnull=False).exclude(pk__in=read)
    measured = [(type_id, length_m, median(losses)) for type_id, length_m, losses in read.values()]
    return [*measured, *as_new.values_list("cable_type", "length_m", "as_new_loss_db")]


def _fresh_readings(on):
    """Sure ones, taken as a segment was fitted that was in no mat before."""
    before = Fitting.objects.filter(segment=OuterRef("segment"), fitted_on__lt=OuterRef("measured_on"))
    sure = Measurement.objects.valid_on(on).filter(taken=Taken.AT_FITTING, no_signal=False, doubt_reason="")
    return sure.exclude(segment__events_before__gt=0).filter(~Exists(before))


def _of_kinds(kinds, segment=""):
    named, path = Q(pk=None), f"{segment}__cable_type" if segment else "cable_type"
    for cable_type, length_m in kinds:
        named |= Q(**{path: cable_type}) & of_length(length_m, segment=segment)
    return named
