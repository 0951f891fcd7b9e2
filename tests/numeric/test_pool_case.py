"""What the invented pool of tests/data/pool puts into the fit, against answers computed apart from the project.

The trend columns of tests/data/pool_expected are those of a model without bench days and wander, and are left out here:
test_pool_trend_case.py has a pool with the answers of the model in use.
"""

import numpy as np
import pandas as pd
import pytest
from case_readings import DATA, read_case
from pool_fits import fit_and_assess


@pytest.fixture(scope="module")
def case():
    read = read_case("pool")
    _, trends = fit_and_assess(read.fit_readings, read.asked)
    expected = pd.read_csv(DATA / "pool_expected" / "expected.csv").set_index("segment")
    return trends, expected, np.array([read.serials.index(serial) for serial in expected.index])


def test_readings_in_the_fit_are_counted_alike(case):
    trends, expected, rows = case
    assert trends.readings[rows].tolist() == expected.readings_in_fit.fillna(0).astype(int).tolist()


def test_trend_rests_on_own_readings_or_on_the_kind(case):
    trends, expected, rows = case
    ours = np.where(trends.own_readings, "own readings", "similar cables")[rows]
    known = expected.trend_from.notna().to_numpy()
    assert ours[known].tolist() == expected.trend_from[known].tolist()


def test_segments_of_unknown_age_alone_have_no_trend(case):
    trends, expected, rows = case
    unknown = expected.readings_in_fit.isna().to_numpy()
    assert set(trends.no_date_reason[rows][unknown]) == {"age not known"}
    assert np.isnan(trends.chance_over[rows]).tolist() == unknown.tolist()
