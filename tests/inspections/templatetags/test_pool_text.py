"""Sentences of the pool's page: cables that move others, and all parameters."""

from types import SimpleNamespace

import numpy as np
import pytest

from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.pool_model import fit_pool_model
from inspections.numeric.words import NoModelReason
from inspections.templatetags.figures import signed
from inspections.templatetags.pool_text import influence, parameters, to_do_first, what_it_needs


@pytest.mark.parametrize(
    ("days", "said"), [(94, "at 3 dB 94 days later."), (-31, "at 3 dB 31 days earlier."), (None, "at 3 dB never.")]
)
def test_a_cable_says_how_far_it_moves_others(days, said):
    cable = SimpleNamespace(length_m=2.95, days=days)
    assert influence(cable, 3.0) == f"Without its readings similar cables of 2.95 m would be expected {said}"


def test_whatever_keeps_a_pool_from_a_trend_something_is_to_be_done():
    assert len({what_it_needs(reason) for reason in NoModelReason}) == len(NoModelReason)


@pytest.mark.parametrize(("segments", "lengths_m"), [(160, (1.0, 3.0)), (160, (2.0,)), (24, (1.0, 3.0))])
def test_every_parameter_stands_with_its_error_where_one_is_known(segments, lengths_m):
    rng = np.random.default_rng(5)
    segment, length_m = np.repeat(np.arange(segments), 3), np.resize(lengths_m, segments)
    t = np.tile([0.1, 1.1, 2.2], segments) + rng.uniform(0, 0.05, 3 * segments)
    loss_db = 0.1 + (0.5 + 0.05 * t) * length_m[segment] + rng.normal(0, 0.05, len(t))
    model = fit_pool_model(FitReadings.of(segment, t, loss_db), length_m).model
    rows = {name: (estimate, error) for name, estimate, error in parameters(model, "year")}
    assert len(rows) == 7 + 2 * len(lengths_m)
    assert float(rows["Scatter of a reading, dB"][0]) == pytest.approx(model.fit.residual_sd, abs=5e-5)
    rise = "Rise, dB a year" if len(lengths_m) == 1 else "Rise at 0 m, dB a year"
    assert float(rows[rise][1]) == pytest.approx(model.fit.standard_errors[len(lengths_m)], abs=5e-5)
    # spreads have errors where a small pool is integrated over them
    assert bool(rows["Wander, dB in one year"][1]) == (segments < 150)


def test_a_shift_of_nothing_carries_no_minus():
    assert [signed(number) for number in (-0.004, 0.0, 0.006, -0.14)] == ["+0.00", "+0.00", "+0.01", "−0.14"]


def page_with(*, again=(), similar_due=0, **found):
    nothing = {"suspect": None, "influential": (), "named_days": (), "newer_readings": 0, "proposal": None}
    to_do = SimpleNamespace(again=again, similar_due=similar_due)
    return SimpleNamespace(to_do=to_do, **{"has_to_do": True, **nothing, **found})


def test_the_page_begins_with_its_tasks_in_one_sentence():
    page = page_with(again=("C-1",), named_days=("12 May", "13 May"), similar_due=3, newer_readings=4)
    assert to_do_first(page) == (
        "To do: measure 1 cable again, look at the set-up of 2 bench days, measure 3 cables before they are changed "
        "and recalculate with 4 new readings."
    )
    suspect = SimpleNamespace(segment="C-9")
    assert to_do_first(page_with(suspect=suspect)) == "To do: look at C-9 first."


def test_where_only_more_readings_would_help_nothing_has_to_be_done():
    assert to_do_first(page_with()) == "Nothing has to be done today. More readings would make it surer."
    assert to_do_first(page_with(has_to_do=False)) == ""
