"""Loose cables judged together: what is unlike is measured again first, and the rule is moved by no bad ones."""

from math import inf, isnan, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.numeric.batches import OwnRange, answer, losses_in_short, own_range, unlike
from inspections.numeric.decibels import typical_loss_db
from inspections.numeric.verdicts import most_of_fresh_db, verdict
from inspections.numeric.words import BatchAnswer, Unlike, Verdict

# RG-58 of F1 in rf.md 1.1: k-law 0.129420, 0.403833, 0.008761 dB/100 ft, so 0.380 dB/m at 400 MHz, 0.706 at 1 GHz
RG_58 = (0.380, 0.706)
SURE, USUAL_DB = 0.066, 1.3123


def judged(loss_db, u_db=SURE, limit_db=3.0, others=(), before=False):
    expected = float(typical_loss_db(2.0, *RG_58, 900))
    unlike_now = unlike(loss_db, float(most_of_fresh_db(expected, u_db)), own_range(others))
    return answer(str(verdict(loss_db, u_db, limit_db)), unlike_now, before)


def test_two_metres_of_fresh_rg_58_are_fit():
    """rf.md 1.1: 2 m of RG-58 lose 1.3123 dB at 900 MHz by F1."""
    assert float(typical_loss_db(2.0, *RG_58, 900)) == pytest.approx(USUAL_DB, abs=0.01)
    assert judged(USUAL_DB) == BatchAnswer.FIT


def test_what_catalogues_differ_by_is_fit_and_more_is_measured_again_then_not():
    """rf.md 1.1: catalogue entries of one type lie within 25 % of F1; beyond, it is no fresh one of that type."""
    assert judged(1.25 * USUAL_DB) == BatchAnswer.FIT
    assert judged(1.40 * USUAL_DB) == BatchAnswer.AGAIN
    assert judged(1.40 * USUAL_DB, before=True) == BatchAnswer.NOT


def test_over_the_limit_is_not_and_undecided_is_measured_again_however_often():
    assert judged(3.4) == BatchAnswer.NOT
    for before in (False, True):
        assert answer(Verdict.UNDECIDED, "", before) == BatchAnswer.AGAIN
        assert answer("", "", before) == BatchAnswer.AGAIN


def test_a_batch_is_held_against_its_own_median_from_five_on():
    four = [1.30, 1.32, 1.31, 1.29]
    assert not own_range(four).known and unlike(9.0, inf, own_range(four)) == ""
    own = own_range([*four, 1.60])
    assert own.median_db == pytest.approx(1.31)
    assert unlike(1.60, inf, own) == Unlike.ABOVE and unlike(1.30, inf, own) == ""


def test_the_range_is_that_of_the_modified_z_score():
    """Iglewicz & Hoaglin: 0.6745 (x - median) / MAD = 3.5 at its ends (NIST/SEMATECH 1.3.5.17, from memory)."""
    losses = [1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2]
    own, mad = own_range(losses), 0.4
    assert 0.6745 * (own.most_db - 1.6) / mad == pytest.approx(3.5)
    assert 0.6745 * (1.6 - own.least_db) / mad == pytest.approx(3.5)


def test_readings_that_are_all_alike_leave_room_for_a_connector_that_is_done_up_anew():
    own = own_range([1.3] * 12)
    assert own.most_db == pytest.approx(1.3 + 3.5 * 0.05)


def test_a_cable_that_reads_far_less_is_another_length():
    assert unlike(0.6, inf, own_range([1.30, 1.31, 1.32, 1.33, 0.6])) == Unlike.BELOW


@given(st.lists(st.floats(0.5, 2.5), min_size=5, max_size=40), st.data())
def test_bad_ones_among_them_do_not_move_the_median_beyond_the_good_ones(good, data):
    """Fewer than half may read whatever they like."""
    bad = data.draw(st.lists(st.floats(2.5, 90), max_size=len(good) - 1))
    own = own_range([*good, *bad])
    assert min(good) <= own.median_db <= max(good)
    assert own.least_db < own.median_db < own.most_db


@given(st.lists(st.floats(0, 90), min_size=5, max_size=40), st.floats(0.1, 5))
def test_the_range_goes_along_when_all_read_more(losses, more_db):
    here, there = own_range(losses), own_range([loss + more_db for loss in losses])
    assert there.most_db - here.most_db == pytest.approx(more_db, abs=1e-9)


def test_what_has_no_number_is_left_out():
    assert own_range([1.3, 1.3, 1.3, 1.3, nan]) != own_range([1.3] * 5)
    assert isnan(OwnRange().most_db)
    short = losses_in_short([1.2, nan, 1.4, 1.3])
    assert (short.count, short.worst_db) == (3, 1.4) and short.median_db == pytest.approx(1.3)
    assert losses_in_short([nan]).median_db is None and losses_in_short([1.3]).spread_db is None


def test_the_spread_in_short_is_a_standard_deviation():
    """Of a normal sample MAD / 0.6745 is the standard deviation (its 75 % quantile is 0.6745); 2 % at this size."""
    normal = np.random.default_rng(5).normal(1.3, 0.05, 20_001)
    assert losses_in_short(normal).spread_db == pytest.approx(0.05, rel=0.02)
