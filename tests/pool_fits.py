"""A pool fitted and asked as the app does it, and what published values of a fit are compared with."""

import numpy as np

from inspections.numeric.pool_model import fit_pool_model
from inspections.numeric.segment_trends import assess_segments


def fit_and_assess(readings, segments, **fit):
    """(PoolModel, SegmentTrends): fitted on segments of known age, then answered from the model alone."""
    model = fit_pool_model(readings.of_segments(segments.age_known), segments.length_m, **fit)
    return model, assess_segments(model, readings, segments)


def standard_errors(fit):
    """Of the fixed effects of a PoolFit, in the order of its `coefficients`."""
    return np.sqrt(np.diag(fit.sigma2 * fit.axes @ fit.beta_inverse @ fit.axes.T))
