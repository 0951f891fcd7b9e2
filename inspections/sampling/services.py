"""Samples: drawn with a seed that is kept, and ended; they are withdrawn as everything in the register."""

import secrets
from datetime import timedelta

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.services.locks import hold, hold_pool

from ..models import Sample, SampledMat
from ..numeric.sample_draws import draw
from .frame_selectors import STRATA, frame_of, known_cables
from .size_selectors import plan_size

# people copy seeds by hand
MOST_OFFERED = 999_999


def new_seed():
    """A seed by the computer's own chance."""
    return secrets.randbelow(MOST_OFFERED + 1)


@transaction.atomic
def draw_sample(
    *,
    by,
    on,
    seed,
    rule,
    share=None,
    confidence=None,
    size=None,
    depot=None,
    home_only=False,
    same=None,
    note="",
    assessed=None,
):
    """Draw a sample of the mats of a depot (none: of the whole pool), and end the one that runs there; returns it.

    `same`: so many of the last sample again, as far as there are; None: half. `assessed`: see `known_cables`.
    """
    hold_pool()
    frame = frame_of(depot, on, home_only)
    if not frame:
        raise ValidationError("No mat in use holds a cable there, so there is nothing to draw from.", code="empty")
    plan = plan_size(rule, len(frame), share=share, confidence=confidence, size=size)
    _end_running(depot, by=by, on=on, assessed=assessed)
    last = Sample.objects.of_frame(depot).first()
    before = set(last.mats.values_list("mat__number", flat=True)) if last else set()
    sample = Sample(
        number=_next_number(on.year),
        drawn_on=on,
        depot=depot,
        home_only=home_only,
        rule=rule,
        share=plan.share,
        confidence=plan.confidence,
        size=plan.size,
        same_asked=_same(same, plan.size, before),
        seed=seed,
        frame=_as_kept(frame, before),
        note=note,
        recorded_by=by,
    )
    sample.full_clean()
    sample.save()
    _store_mats(sample, frame, before, assessed)
    return sample


def drawn_again(sample):
    """Rows of its frame that its seed gives, worked out from what is kept of it alone."""
    strata = [STRATA.index(stratum) for _, stratum in sample.frame["mats"]]
    before = set(sample.frame["before"])
    was_there = [number in before for number, _ in sample.frame["mats"]]
    return draw(strata, sample.size, sample.seed, was_there, sample.same_asked).tolist()


@transaction.atomic
def end_sample(sample, *, by, on, reason="", seen_version=None):
    """Nothing that is read after that day counts; what is known of its cables is kept. Returns the sample."""
    hold(sample)
    if not sample.is_running:
        raise ValidationError(f"{sample} does not run any more.", code="closed")
    return _end(sample, by=by, ended_on=on, on=on, reason=reason, seen_version=seen_version)


def _end_running(depot, *, by, on, assessed):
    for sample in Sample.objects.of_frame(depot).running():
        ended_on = max(sample.drawn_on, on - timedelta(days=1))
        _end(sample, by=by, ended_on=ended_on, on=on, reason="another one is drawn", assessed=assessed)


def _end(sample, *, by, ended_on, on, reason, seen_version=None, assessed=None):
    sample.correct(by=by, reason=reason, seen_version=seen_version, ended_on=ended_on)
    keep_cables_after(sample, on, assessed)
    return sample


def keep_cables_after(sample, on, assessed=None):
    """Keep what is known of its mats' cables at the end, beside what was at the draw."""
    rows = list(sample.mats.select_related("mat"))
    cables = known_cables([row.mat for row in rows], on, assessed)
    for row in rows:
        row.cables_after = cables[row.mat_id]
    SampledMat.objects.bulk_update(rows, ["cables_after"], batch_size=500)


def _same(same, size, before):
    """Half of the last sample comes again, unless somebody says otherwise; nothing where there was none."""
    if not before:
        return 0
    return min(size // 2 if same is None else same, size)


def _as_kept(frame, before):
    return {"mats": [[row.mat.number, str(row.stratum)] for row in frame], "before": sorted(before)}


def _store_mats(sample, frame, before, assessed):
    rows = drawn_again(sample)
    cables = known_cables([frame[row].mat for row in rows], sample.drawn_on, assessed)
    SampledMat.objects.bulk_create(
        SampledMat(
            sample=sample,
            mat=frame[row].mat,
            frame_row=row,
            stratum=frame[row].stratum,
            again=frame[row].mat.number in before,
            cables=cables[frame[row].mat.pk],
        )
        for row in rows
    )


def _next_number(year):
    return f"S-{year}-{Sample.objects.highest_running(f'S-{year}-') + 1}"
