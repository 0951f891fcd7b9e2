"""How far an estimate would move with other mats: whole clusters drawn anew, since lives of one are alike."""

import numpy as np

from .records import Lives

# drawn so often, an end of a 90 % interval is settled to a few hundredths of its width; the seed keeps pages the same
DRAWS, SEED = 200, 20
CONFIDENCE = 0.90
# fewer clusters drawn anew give little but themselves again
FEWEST_CLUSTERS = 5
# of more lives than these, ages are told apart by so many cells up to the longest that was watched
MANY, CELLS = 1_000, 240
# of a cell: ends that lie on an edge but for rounding stay there
ON_EDGE = 1e-9


def cluster_weights(cluster, draws=DRAWS, seed=SEED):
    """(draws, lives): how often each life counts where as many clusters are drawn, with putting back."""
    _, row = np.unique(cluster, return_inverse=True)
    return _drawn(row, draws, seed)[:, row]


def drawn_kinds(lives, draws=DRAWS, seed=SEED):
    """(Lives that differ, how often each counts (draws, kinds)): the same of lives, those that are alike as one."""
    from scipy.sparse import csr_array

    _, row = np.unique(lives.cluster, return_inverse=True)
    ends = np.stack([lives.entry, lives.low, lives.high], axis=1)
    kinds, kind = np.unique(ends, axis=0, return_inverse=True)
    counts = csr_array((np.ones(len(lives)), (row, kind.ravel())), shape=(row.max(initial=-1) + 1, len(kinds)))
    entry, low, high = kinds.T
    return Lives.of(low, high, entry), _drawn(row, draws, seed) @ counts


def _drawn(row, draws, seed):
    count = row.max(initial=-1) + 1
    rng = np.random.default_rng(seed)
    return rng.multinomial(count, np.full(count, 1 / max(count, 1)), size=draws).astype(float)


def coarse(lives):
    """The same Lives where these are few; of many the ends moved outwards to the nearest edge of CELLS, which can only
    widen a span: by less than half a hundredth of the longest age at each end."""
    if len(lives) <= MANY or lives.watched_until <= 0:
        return lives
    cell = lives.watched_until / CELLS
    low, entry = (cell * np.floor(column / cell + ON_EDGE) for column in (lives.low, lives.entry))
    high = np.where(lives.is_over, np.maximum(cell * np.ceil(lives.high / cell - ON_EDGE), cell), np.inf)
    return Lives.of(low, high, entry, lives.cluster)


def interval(values, confidence=CONFIDENCE):
    """(low, high) of the draws (first axis) by their percentiles; draws that are no number count at the far end."""
    tail = 100 * (1 - confidence) / 2
    ordered = np.where(np.isnan(values), np.inf, values)
    return tuple(np.percentile(ordered, [tail, 100 - tail], axis=0, method="inverted_cdf"))
