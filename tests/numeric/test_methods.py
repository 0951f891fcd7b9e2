"""What a number of an instrument means, and how sure it is."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.numeric.methods import (
    DEFAULT_UNCERTAINTY_DB,
    REFLECTION_UNCERTAINTY_DB,
    go_no_go_verdict,
    loss_of_shown_db,
    reading_uncertainty_db,
    shown_by,
)
from inspections.numeric.verdicts import verdict
from inspections.numeric.words import InstrumentKind, Method, Shown

NAN = np.nan


@pytest.mark.parametrize(
    ("method", "loss_db"),
    # by reflection the wave passes the cable twice: losses in series add in dB, so 1.6 dB shows as 3.2
    [
        ("", 3.2),
        (Method.THROUGH, 3.2),
        (Method.FAR_END_OPEN, 1.6),
        (Method.FAR_END_SHORTED, 1.6),
        (Method.ON_ELEMENT, NAN),
        (Method.NOT_REFERENCED, NAN),
    ],
)
def test_how_the_cable_was_connected_decides_what_3_2_db_mean(method, loss_db):
    assert loss_of_shown_db(3.2, shown_by(method)) == pytest.approx(loss_db, nan_ok=True)


def test_a_sound_cable_read_by_one_port_is_within():
    judged = verdict(loss_of_shown_db([3.2, 3.2], [Shown.LOSS, Shown.RETURN_LOSS]), [0.066, 0.2], 3.0)
    assert judged.tolist() == ["over", "within"]


@pytest.mark.parametrize(
    ("kind", "expanded_db"),
    # expanded uncertainty U, k = 2, so that u is half of it: a budget of 0.13 dB for a corrected two-port, 0.27 dB with
    # a response calibration only, 0.3 dB of typed scalar readings. Engineering judgement, no published value.
    [(InstrumentKind.TWO_PORT, 0.13), (InstrumentKind.RESPONSE_ONLY, 0.27), (InstrumentKind.LOSS_METER, 0.3)],
)
def test_the_default_of_a_kind_is_half_of_its_expanded_uncertainty(kind, expanded_db):
    # the budget is stated to a hundredth of a dB
    assert 2 * DEFAULT_UNCERTAINTY_DB[kind] == pytest.approx(expanded_db, abs=0.005)


def test_the_budget_of_a_corrected_two_port_adds_up():
    # trace 0.01, two connections of 0.03 each, mismatch 0.03, tracking 0.05 rectangular, flexure 0.02, and 10 °C on
    # 1.5 dB at 0.2 %/°C rectangular: root of the sum of squares, as of independent parts (JCGM 100:2008, 5.1.2)
    parts = [0.01, 0.03, 0.03, 0.03, 0.05 / 3**0.5, 0.02, 0.002 * 10 * 1.5 / 3**0.5]
    assert DEFAULT_UNCERTAINTY_DB[InstrumentKind.TWO_PORT] == pytest.approx(np.linalg.norm(parts), abs=0.003)


def test_a_reading_by_reflection_is_no_surer_than_usual_unless_its_instrument_is_made_for_it():
    assert reading_uncertainty_db(0.05, False, Shown.RETURN_LOSS) == REFLECTION_UNCERTAINTY_DB
    assert reading_uncertainty_db(0.05, True, Shown.RETURN_LOSS) == 0.05
    assert reading_uncertainty_db(0.05, False, Shown.LOSS) == 0.05
    assert reading_uncertainty_db(0.4, False, Shown.RETURN_LOSS) == 0.4


@pytest.mark.parametrize(
    ("over_at", "within_at", "limit_db", "expected"),
    [
        (3.0, NAN, 3.0, "over"),
        (3.5, NAN, 3.0, "over"),
        (2.5, NAN, 3.0, "undecided"),
        (NAN, 3.0, 3.0, "within"),
        (NAN, 2.5, 3.0, "within"),
        (NAN, 3.5, 3.0, "undecided"),
        # of a day on which it said both, the worse stands
        (3.0, 3.0, 3.0, "over"),
        (2.5, 2.5, 3.0, "undecided"),
        (-np.inf, NAN, 3.0, "undecided"),
        (NAN, np.inf, 3.0, "undecided"),
        (NAN, NAN, 3.0, ""),
    ],
)
def test_a_go_no_go_tester_decides_where_it_is_set_sharp_enough(over_at, within_at, limit_db, expected):
    assert go_no_go_verdict(over_at, within_at, limit_db) == expected


@given(set_db=st.floats(0.1, 20), limit_db=st.floats(0.1, 20), loss_db=st.floats(0, 30))
def test_a_go_no_go_tester_never_says_what_the_loss_is_not(set_db, limit_db, loss_db):
    says_over = loss_db >= set_db
    said = go_no_go_verdict(set_db if says_over else NAN, NAN if says_over else set_db, limit_db)
    assert said in ("over" if loss_db >= limit_db else "within", "undecided")
