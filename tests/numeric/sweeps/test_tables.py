"""Tables of frequency and dB: what their columns are called decides what they are."""

import pytest

from inspections.numeric.sweeps.losses import loss_at
from inspections.numeric.sweeps.reading import read_sweep
from inspections.numeric.sweeps.records import FarEndNotSaid, SweepRefused
from inspections.numeric.words import FarEnd


def table(head, *rows):
    return read_sweep("\n".join([head, *rows]).encode())


def refusal(head, *rows):
    with pytest.raises(SweepRefused) as refused:
        loss_at(table(head, *rows), 900)
    return str(refused.value)


@pytest.mark.parametrize("head", ["Loss (dB)", "Insertion loss [dB]", "loss_db", "Dämpfung (dB)", "Verlust (dB)"])
@pytest.mark.parametrize(("shown", "said"), [("1.31", 0), ("-1.31", 1)])
def test_a_loss_is_positive_and_told_when_it_was_not(head, shown, said):
    sweep = table(f"Frequency (MHz),{head}", f"890,{shown}", f"900,{shown}")
    assert loss_at(sweep, 900).loss_db == pytest.approx(1.31)
    assert [warning.endswith("They were read as losses.") for warning in sweep.warnings] == [True] * said


@pytest.mark.parametrize("name", ["S21 (dB)", "dB(S21)", "S(2,1) [dB]", "Transmission (dB)", "Gain (dB)", "S21 Logmag"])
def test_s21_is_negative_and_positive_it_is_gain(name):
    head = f"Frequency (MHz);{name}"
    assert loss_at(table(head, "900;-1.31"), 900).loss_db == pytest.approx(1.31)
    assert "line 2: S21 is +1.31 dB at 900 MHz, and no cable has gain." in refusal(head, "900;1.31")
    assert "or names a loss as S21" in refusal(head, "900;1.31")


@pytest.mark.parametrize(("head", "shown"), [
    ("S11 (dB)", "-2.62"), ("Return loss (dB)", "2.62"), ("Return loss (dB)", "-2.62"), ("Reflection (dB)", "-2.62"),
    ("Rückflussdämpfung (dB)", "2.62"),
])  # fmt: skip
def test_a_reflection_is_of_one_port(head, shown):
    sweep = table(f"Frequency (MHz),{head}", f"900,{shown}")
    assert loss_at(sweep, 900, far_end=FarEnd.SHORT).loss_db == pytest.approx(1.31)
    with pytest.raises(FarEndNotSaid):
        loss_at(sweep, 900)


@pytest.mark.parametrize("shown", ["-2.62", "2.62"])
def test_a_column_of_mere_db_is_what_the_bench_hand_says_it_is(shown):
    sweep = table("MHz;dB", f"900;{shown}")
    through, one_port = loss_at(sweep, 900), loss_at(sweep, 900, far_end=FarEnd.OPEN)
    assert [through.loss_db, one_port.loss_db] == pytest.approx([2.62, 1.31])
    says = "The dB were read as S21, through the cable. If they are S11, say how the far end was."
    assert [sweep.warnings, through.warnings, one_port.warnings] == [(), (says,), ()]


@pytest.mark.parametrize("units", ["MHz;deg;dB", "[MHz];[°];[dB]", "# (MHz);(deg);(dB)"])
def test_units_may_stand_below_the_names(units):
    sweep = table("Frequency;Phase;S21", units, "900;-100;-1,31")
    assert loss_at(sweep, 900).loss_db == pytest.approx(1.31)


def test_a_table_may_hold_both():
    sweep = table("Freq (GHz)\tS11 (dB)\tphase\tS21 (dB)", "0.9\t-2.4\tnan\t-1.31")
    assert loss_at(sweep, 900).loss_db == pytest.approx(1.31)
    assert loss_at(sweep, 900, far_end=FarEnd.OPEN).loss_db == pytest.approx(1.2)


def test_quotes_and_lines_of_comment_do_no_harm():
    sweep = table("# saved today", '#"Frequency (MHz)","S21 (dB)"', '"890,5","-1,30"', "# half", '"900,5","-1,31"')
    assert loss_at(sweep, 900.5).loss_db == pytest.approx(1.31)
    assert sweep.warnings == ()


@pytest.mark.parametrize(("lines", "said"), [
    (["Frequency,S21 (dB)", "900,-1"], "line 1 “Frequency,S21 (dB)”: the column of frequency has no unit of Hz, kHz,"),
    (["Frequency (MHz),S21", "900,-1"], "no column is in dB. Save the sweep as log magnitude, in dB."),
    (["Frequency (MHz),Power (dBm)", "900,-1"], "no column is in dB."),
    (["Frequency (MHz),A (dB),B (dB)", "900,-1,-2"], "no column in dB says that it is S21, S11 or a loss."),
    (["Frequency (MHz),S21 (dB),S21 (dB)", "900,-1,-2"], "two columns are of transmission. Keep the column of one"),
    (["Frequency (MHz),S21 (dB)", "900"], "line 2 “900”: 1 cell instead of 2, as in the line that names the columns."),
    (["Frequency (MHz),S21 (dB)", "900,-1,31"], "line 2 “900,-1,31”: 3 cells instead of 2"),
    (["Frequency (MHz),S21 (dB)", "900,x"], "line 2 “900,x”: “x” is not a number."),
    (["Frequency (MHz),S21 (dB)"], "There are no rows of numbers below the names of the columns."),
    (["Frequency (MHz),S21 (dB)", "900,-1", "END", "BEGIN CH2"], "line 4 “BEGIN CH2”: this stands below the end"),
    (['"Frequency (MHz),S21 (dB)', "900,-1"], "S21 (dB)”: this begins no sweep. Save the sweep as"),
    (["f;MHz", "MHz;GHz", "900;-1"], "line 1 “f;MHz”: no column is in dB."),
    (["900,-1.31", "901,-1.32"], "line 1 “900,-1.31”: no line names the columns and their units."),
])  # fmt: skip
def test_a_table_that_leaves_something_open_is_refused(lines, said):
    assert said in refusal(*lines)
