"""Published data sets of tests/data/published, as arrays."""

from pathlib import Path

import numpy as np
import pandas as pd

FOLDER = Path(__file__).parent / "data" / "published"


def pairs(name):
    """(x, y) of a single line."""
    table = pd.read_csv(FOLDER / f"{name}.csv")
    return table.x.to_numpy(float), table.y.to_numpy(float)


def grouped(name):
    """(segment row, x, y, names) of a set of many subjects, in sorted order of their names."""
    table = pd.read_csv(FOLDER / f"{name}.csv", dtype={"subject": str})
    names, segment = np.unique(table.subject, return_inverse=True)
    return segment, table.x.to_numpy(float), table.y.to_numpy(float), list(names)
