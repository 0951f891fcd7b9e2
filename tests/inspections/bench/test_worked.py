"""The way of a reading to its verdict as pages write it: the printed numbers give the printed results."""

import re
from math import sqrt
from statistics import NormalDist

import pytest
from factories import fit, make_instrument, make_mat, make_plain_segment, make_reading, make_tester
from page_words import words_in

from inspections.bench.reading_selectors import readings_of_segment
from inspections.bench.worked_tables import worked_examples

pytestmark = pytest.mark.django_db
WARM = {"frequency_mhz": 915.0, "temperature_c": 25.0}


@pytest.fixture
def cable(on):
    segment = make_plain_segment()
    fit(segment, make_mat("M-1"), 1)
    return segment


def steps_of(cable, on):
    ((_which, steps),) = worked_examples(readings_of_segment(cable, on))
    return steps


def value_of(sum_in_words):
    """What an expression as printed comes to."""
    text = sum_in_words.replace("·", "*").replace("÷", "/").replace("−", "-").replace("√", "sqrt")
    assert re.fullmatch(r"[-0-9.()*/+ sqrt]+", text), text
    return eval(text, {"sqrt": sqrt})  # digits and signs alone


@pytest.mark.parametrize("shown_db", [0.16, 1.96, 2.9, 3.05, 3.6])
@pytest.mark.parametrize("method", ["through", "far end open", ""])
@pytest.mark.parametrize("how", [WARM, {}, {"temperature_c": 4.0}])
def test_the_printed_numbers_give_the_printed_results(cable, on, shown_db, method, how):
    bridge = make_instrument("bridge", standard_uncertainty_db=0.12)
    make_reading(cable, shown_db, on, method=method, instrument=bridge, **how)
    *steps, verdict = steps_of(cable, on)
    for step in steps:
        begun, _, result = step.removesuffix(" dB.").rpartition(" = ")
        if begun:
            expression = begun.replace(" return loss ÷ 2, as it went there and back", " / 2")
            assert value_of(expression) == pytest.approx(float(result), abs=0.0011)
    distance, z, said = re.fullmatch(r"(.+?) = (-?[0-9.]+), .+ is (.+): (?:within|over|undecided)\.", verdict).groups()
    assert value_of(distance) == pytest.approx(float(z), abs=0.011)
    chance = 100 * NormalDist().cdf(float(z))
    bounds = {"above 99\N{NO-BREAK SPACE}%": (99.4, 100), "below 0.1\N{NO-BREAK SPACE}%": (0, 0.1)}
    number = float(re.sub(r"[^0-9.]", "", said))
    low, high = bounds.get(said, (number - 0.9, number + 0.9))
    assert low <= chance <= high
    assert verdict.endswith("within." if chance >= 95 else "over." if chance <= 5 else "undecided.")


def test_three_instruments_and_three_ways_stand_on_the_page_of_one_mat(client, visitor, on):
    """The same cable of 1.3 dB: through, by its return loss, and by the word of a tester."""
    cables = [make_plain_segment() for _ in range(3)]
    mat = make_mat("M-2")
    for position, cable in enumerate(cables, 1):
        fit(cable, mat, position)
    make_reading(cables[0], 1.3, on, method="through", instrument=make_instrument("bridge"))
    make_reading(cables[1], 2.6, on, method="far end shorted", instrument=make_instrument("pocket", kind="one-port"))
    make_reading(cables[2], None, on, go_no_go="within", instrument=make_tester(3.0))
    client.force_login(visitor)
    shown = words_in(client.get("/mats/M-2/").content.decode())
    assert "position 2, " in shown
    assert "2.600 return loss ÷ 2, as it went there and back = 1.300 dB." in shown
    assert "It was read at 900 MHz and 20 °C is assumed: 1.300 dB." in shown
    assert "set to 3 dB, said within; the limit is 3 dB: within." in shown
    assert "bridge and pocket are not linked: they never read the same reference piece." in shown


def test_without_an_uncertainty_the_loss_alone_decides(cable, on):
    make_reading(cable, 1.3, on, instrument=make_instrument("bridge", standard_uncertainty_db=0.0))
    assert steps_of(cable, on)[-1] == "Its uncertainty is 0 dB, so 1.300 dB against the limit of 3 dB is within."


def test_what_has_no_verdict_says_why(cable, on):
    make_reading(cable, 9.4, on, method="on its element")
    said = ["On its element the number tells nothing of the cable alone.", "So it has no verdict."]
    assert steps_of(cable, on) == said
