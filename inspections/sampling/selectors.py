"""Samples: the list, one of them, those drawn from the same mats, and what the next draw would be."""

from dataclasses import dataclass

from django.shortcuts import get_object_or_404

from fleet.models import Depot, Mat

from ..models import Sample
from ..numeric.sample_draws import allocation
from .frame_selectors import STRATA, frame_of
from .result_selectors import found_by
from .size_selectors import SizePlan, plan_size

# of one set of mats: ten years of yearly samples
MOST_COMPARED = 10


@dataclass(frozen=True)
class NextDraw:
    """What would be drawn: its size, mats and draws by stratum [(stratum, mats, draws)], and what it follows."""

    plan: SizePlan
    strata: list
    last: Sample | None
    running: Sample | None


def all_samples():
    return Sample.objects.with_register()


def get_sample_or_404(number):
    return get_object_or_404(all_samples(), number=number)


def with_found(samples, on):
    """The samples of a page of the list, each with its `found`."""
    samples = list(samples)
    for sample, found in zip(samples, found_by(samples, on), strict=True):
        sample.found = found
    return samples


def compared_with(sample, on):
    """SampleFound of this one, and of all drawn from the same mats, this one among them, the newest first."""
    others = Sample.objects.of_frame(sample.depot).select_related("depot")
    samples = [sample, *others.exclude(pk=sample.pk)[: MOST_COMPARED - 1]]
    own, *former = found_by(samples, on)
    shown = [own, *former] if sample.withdrawn_on is None else former
    return own, sorted(shown, key=lambda found: (found.sample.drawn_on, found.sample.pk), reverse=True)


def next_draw(on, *, depot=None, home_only=False, rule, share=None, confidence=None, size=None, **_):
    """The NextDraw; None where no mat is there to draw from."""
    frame = frame_of(depot, on, home_only)
    if not frame:
        return None
    plan = plan_size(rule, len(frame), share=share, confidence=confidence, size=size)
    counts = [sum(row.stratum == stratum for row in frame) for stratum in STRATA]
    drawn = allocation(counts, plan.size).tolist()
    strata = [row for row in zip(STRATA, counts, drawn, strict=True) if row[1]]
    of_frame = Sample.objects.of_frame(depot)
    return NextDraw(plan, strata, of_frame.first(), of_frame.running().first())


def depots_to_draw_from(on):
    return Depot.objects.filter(pk__in=Mat.objects.in_use(on).values("depot"))
