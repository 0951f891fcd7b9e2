"""A pool fitted and asked as the app does it, or at the optimum of a likelihood that is chosen by hand."""

from dataclasses import replace

import numpy as np

from inspections.numeric.pool_fit import fit_pool
from inspections.numeric.pool_model import PoolModel, fit_pool_model
from inspections.numeric.pool_points import PoolPoints
from inspections.numeric.reading_blocks import lay_out, settled
from inspections.numeric.segment_trends import assess_segments
from inspections.numeric.wear_model import Variances
from inspections.numeric.wear_states import PieceAnswers, SegmentStates
from inspections.numeric.words import Clock


def fit_and_assess(readings, segments, **fit):
    """(PoolModel, SegmentTrends): fitted on segments of known age, then answered from the model alone."""
    known = segments.age_known[readings.segment]
    model, departed = fit_pool_model(readings.take(known), segments.length_m, **fit)
    left_out = np.zeros(len(known), bool)
    left_out[known] = departed
    return model, assess_segments(model, replace(readings, left_out=left_out), segments)


def straight_fit(readings, length_m, **fit):
    """PoolFit without wander and settling, the readings each alone on their day unless they say otherwise."""
    return fit_pool(readings, length_m, settling=False, wander=False, **fit).fit


def straight_model(readings, length_m, **fit):
    """PoolModel of `straight_fit`."""
    return plugged_in(readings, length_m, settling=False, wander=False, **fit)


def plugged_in(readings, length_m, **fit):
    """PoolModel at the optimum, however few segments there are; options as `fit_pool` has them."""
    return at_parameters(fit_pool(readings, length_m, **fit), len(readings.x))


def at_parameters(optimum, readings):
    fit = optimum.fit
    variances, sigma2 = Variances.from_root(*fit.theta), np.array([fit.sigma2])
    points = PoolPoints.of(optimum, variances, sigma2, optimum.solution, np.ones(1))
    return PoolModel(Clock.YEARS, fit.segments, readings, fit, points, None)


def states_at(model, readings, length_m, x):
    """SegmentStates of all segments at time `x`, years since first fitted: smoothed, or forecast."""
    points, table = model.points, np.empty((6, len(length_m)))
    for block in lay_out(readings, np.asarray(length_m, float), points.keys, points.scale):
        t = np.broadcast_to(np.asarray(x, float), len(length_m))[block.rows]
        target = PieceAnswers.of(block, points).at(t / points.scale, settled(t))
        by_scale = np.array([1, 1 / points.scale, 1, 1 / points.scale, 1 / points.scale**2])
        table[:5, block.rows] = np.stack([part[0] for part in target]) * by_scale[:, None]
    table[5] = points.wander_db2[0] / points.scale
    return SegmentStates(*table)
