"""How far an estimate would move with other mats: whole clusters drawn anew, since lives of one are alike."""

import numpy as np

# drawn so often, an end of a 90 % interval is settled to a few hundredths of its width; the seed keeps pages the same
DRAWS, SEED = 200, 20
CONFIDENCE = 0.90
# fewer clusters drawn anew give little but themselves again
FEWEST_CLUSTERS = 5


def cluster_weights(cluster, draws=DRAWS, seed=SEED):
    """(draws, lives): how often each life counts where as many clusters are drawn, with putting back."""
    _, row = np.unique(cluster, return_inverse=True)
    count = row.max(initial=-1) + 1
    drawn = np.random.default_rng(seed).multinomial(count, np.full(count, 1 / max(count, 1)), size=draws)
    return drawn[:, row].astype(float)


def interval(values, confidence=CONFIDENCE):
    """(low, high) of the draws (first axis) by their percentiles; draws that are no number count at the far end."""
    tail = 100 * (1 - confidence) / 2
    ordered = np.where(np.isnan(values), np.inf, values)
    return tuple(np.percentile(ordered, [tail, 100 - tail], axis=0, method="inverted_cdf"))
