"""The bench sheet of a sample: its mats in order, a line for each cable."""

from dataclasses import dataclass

from fleet.models import Mat

from ..models import Assessment, Sample
from .frame_selectors import known_cables


@dataclass(frozen=True)
class SheetCable:
    """`known`: see `SampledMat.cables`; `assessment`: with its last loss, None where there is none."""

    known: dict
    assessment: Assessment | None


@dataclass(frozen=True)
class SheetMat:
    mat: Mat
    cables: list[SheetCable]


def bench_sheet(sample: Sample, on):
    """SheetMats in the order of the frame, with the cables that are in them now; as many queries whatever the size.

    Mats that left service stay off it.
    """
    rows = sample.mats.select_related("mat__design", "mat__depot")
    mats = [row.mat for row in rows if row.mat.withdrawn_on is None or row.mat.withdrawn_on > on]
    assessed = {row.segment_id: row for row in Assessment.objects.filter(mat__in=mats)}
    cables = known_cables(mats, on, assessed)
    return [
        SheetMat(mat, [SheetCable(known, assessed.get(known["segment"])) for known in cables[mat.pk]]) for mat in mats
    ]
