"""Sentences and cells of the pool's page: `{% load pool_text %}`, then

{{ cable|influence:limit_db }}      how far a cable moves the expected day of its length
{{ page|to_do_first }}              what a keeper can do for the trend, in one sentence
{{ reason|what_it_needs }}          what to do where there is no trend of the pool
{{ cables|against_limit:limit_db }} how many are over the limit, and how near the next one is
{{ model|parameters:per }}          all parameters of a model: (name, estimate, standard error or '')
"""

import numpy as np
from django import template

from fleet.parsing.counts import counted, listed

from ..numeric.words import NoModelReason
from .figures import figure, two_places

register = template.Library()


@register.filter
def influence(cable, limit_db):
    moved = "never" if cable.days is None else f"{counted(abs(cable.days), 'day')} {_WAYS[cable.days > 0]}"
    others = f"similar cables of {two_places(cable.length_m)} m"
    return f"Without its readings {others} would be expected at {figure(limit_db)} dB {moved}."


@register.filter
def to_do_first(page):
    """The task list of the page in one sentence, each task with its count, the most urgent first."""
    to_do, named = page.to_do, len(page.named_days)
    tasks = [
        (page.suspect, f"look at {page.suspect and page.suspect.segment} first"),
        (to_do.again, f"measure {counted(len(to_do.again), 'cable')} again"),
        (page.influential, f"check the entries of {counted(len(page.influential), 'cable')}"),
        (named, f"look at the set-up of {counted(named, 'bench day')}"),
        (
            to_do.similar_due,
            f"measure {counted(to_do.similar_due, 'cable')} before {_THEY[to_do.similar_due == 1]} changed",
        ),
        (page.newer_readings, f"recalculate with {counted(page.newer_readings, 'new reading')}"),
        (page.proposal, f"decide whether wear is counted by {page.proposal}"),
    ]
    said = [words for needed, words in tasks if needed]
    if not said:
        return "Nothing has to be done today. More readings would make it surer." if page.has_to_do else ""
    return f"To do: {listed(said)}."


@register.filter
def what_it_needs(reason):
    """What would give the pool a trend."""
    return _NEEDS[reason]


@register.filter
def parameters(model, per):
    fit = model.fit
    sd_level, sd_rate, correlation = fit.deviations
    spreads = _errors_of_spreads(model)
    rows = [
        *zip(_COEFFICIENTS[fit.with_length], fit.coefficients.tolist(), fit.standard_errors.tolist(), strict=True),
        ("Spread of cables when new, dB", sd_level, spreads[0]),
        ("Spread of their rise, dB a {per}", sd_rate, spreads[1]),
        ("Correlation of both", correlation, None),
        ("Wander, dB in one {per}", fit.wander_db, spreads[2]),
        ("Shift of a bench day, dB", fit.bench_day_sd_db, spreads[3]),
        ("Scatter of a reading, dB", fit.residual_sd, spreads[4]),
        ("What settles, dB", fit.settling_db, fit.settling_sd_db if fit.settling else None),
    ]
    return [(name.format(per=per), _places(estimate), _places(error)) for name, estimate, error in rows]


def _errors_of_spreads(model):
    """Standard deviations over the points of a small pool; None where there is one point only."""
    if not model.integrated:
        return [None] * 5
    points, unit = model.points, model.points.scale
    level, _, rate, wander, day = points.variances * points.sigma2
    spreads = [level, rate / unit**2, wander / unit, day, points.sigma2]
    return [_spread(np.sqrt(variance), points.weight) for variance in spreads]


def _spread(values, weight):
    return float(np.sqrt(weight @ (values - weight @ values) ** 2))


def _places(number):
    return "" if number is None else f"{number:.4f}".replace("-", "\N{MINUS SIGN}")


_COEFFICIENTS = {
    True: (
        "Loss when fitted at 0 m, dB",
        "Loss when fitted, dB a metre",
        "Rise at 0 m, dB a {per}",
        "Rise, dB a metre and {per}",
    ),
    False: ("Loss when fitted, dB", "Rise, dB a {per}"),
}
_NEEDS = {
    NoModelReason.FEW_SEGMENTS: "Read five cables on two days each, some months apart, and there is one.",
    NoModelReason.ONE_TIME: "Read some of them again later, and there is one.",
    NoModelReason.NO_FIT: "Correct that value, then recalculate.",
}
_THEY = {True: "it is", False: "they are"}
_WAYS = {True: "later", False: "earlier"}


@register.filter
def against_limit(cables, limit_db):
    """How CablePoints stand to the limit: how many of those read are over it, and how near the next one is."""
    read = cables.read & ~cables.left_out
    if not read.any():
        return "No cable in service has a reading that counts, so the drawing shows what similar ones lose today."
    over = read & (cables.loss_db > limit_db)
    verb = "is" if over.sum() <= 1 else "are"
    of = counted(int(read.sum()), "cable")
    said = f"{over.sum() or 'None'} of {of} that were read {verb} over {figure(limit_db)} dB."
    within = read & ~over
    if not within.any():
        return said
    nearest = int(np.where(within, cables.loss_db, -np.inf).argmax())
    loss_db, length_m = cables.loss_db[nearest], cables.length_m[nearest]
    return f"{said} The nearest below it loses {two_places(loss_db)} dB, at {two_places(length_m)} m."
