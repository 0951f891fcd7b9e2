"""Published data sets of tests/data/published, as arrays."""

from pathlib import Path

import numpy as np
import pandas as pd

from inspections.numeric.lives.records import Lives

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


def diabetes(group=None):
    """Lives in years of patients, of one group or of all."""
    table = _of_group("diabetes", group)
    times = table.lives.to_numpy()
    return Lives.of(np.repeat(table.low.to_numpy(float), times), np.repeat(table.high.to_numpy(float), times))


def channing(group):
    """Lives in months of the men or the women of Channing House, who came at their own ages."""
    table = _of_group("channing", group)
    age = table.age.to_numpy(float)
    return Lives.of(age, np.where(table.died == 1, age, np.inf), table.entry.to_numpy(float))


def _of_group(name, group):
    table = pd.read_csv(FOLDER / f"{name}.csv")
    return table if group is None else table[table.group == group]
