"""What a sample is drawn from: mats in use that hold a cable, with their age; and what is known of their cables."""

from dataclasses import dataclass

from django.db.models import OuterRef, Subquery

from fleet.choices import FittedBasis
from fleet.models import Fitting, Mat, UsageEvent

from ..choices import Stratum
from ..models import Assessment

BY_YEARS = (Stratum.UNDER_1, Stratum.FROM_1, Stratum.FROM_2, Stratum.FROM_3)
STRATA = list(Stratum.values)


@dataclass(frozen=True)
class FrameRow:
    mat: Mat
    stratum: str


def frame_of(depot, on, home_only=False):
    """FrameRows by mat number: all mats in use with a cable, of a depot (none: of the whole pool)."""
    mats = Mat.objects.in_use(on)
    if depot:
        mats = mats.filter(depot=depot)
    if home_only:
        mats = mats.exclude(pk__in=UsageEvent.objects.out(on).values("mat"))
    strata = _strata(mats, on)
    return [FrameRow(mat, strata[mat.pk]) for mat in mats.order_by("number") if mat.pk in strata]


def _strata(mats, on):
    """{mat's key: Stratum} by its oldest cable; *not known* where a cable may be older than its first fitting says."""
    first = Fitting.objects.filter(segment=OuterRef("segment")).order_by("fitted_on")
    fitted = Fitting.objects.current(on).filter(mat__in=mats.values("pk")).order_by()
    rows = fitted.values_list(
        "mat", Subquery(first.values("fitted_on")[:1]), Subquery(first.values("fitted_basis")[:1])
    )
    oldest, guessed = {}, set()
    for mat, first_on, basis in rows:
        oldest[mat] = min(oldest.get(mat, first_on), first_on)
        if basis == FittedBasis.NOT_LATER_THAN:
            guessed.add(mat)
    return {mat: Stratum.UNKNOWN if mat in guessed else _stratum(day, on) for mat, day in oldest.items()}


def _stratum(first_on, on):
    years = on.year - first_on.year - ((on.month, on.day) < (first_on.month, first_on.day))
    return BY_YEARS[min(years, len(BY_YEARS) - 1)]


def known_cables(mats, on, assessed=None):
    """{mat's key: its cables on that day as `SampledMat.cables` keeps them, by position}; two queries.

    `assessed`: {segment's key: Assessment} of another day; None: as they are assessed now.
    """
    keys = [mat.pk for mat in mats]
    fitted = Fitting.objects.current(on).filter(mat__in=keys).select_related("segment").order_by("position")
    if assessed is None:
        assessed = {row.segment_id: row for row in Assessment.objects.filter(mat__in=keys)}
    cables = {key: [] for key in keys}
    for fitting in fitted:
        cables[fitting.mat_id].append(_known(fitting, assessed.get(fitting.segment_id)))
    return cables


def _known(fitting, row):
    return {
        "segment": fitting.segment_id,
        "serial": fitting.segment.serial,
        "position": fitting.position,
        "length_m": fitting.segment.length_m,
        "status": row.status.value if row else "",
        "cause": row.cause if row else "",
        "due_on": row.due_on.isoformat() if row and row.due_on else None,
    }
