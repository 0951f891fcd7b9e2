"""Every file of the case folder is taken, taken with a warning, or refused, as its right answer says."""

import pytest
from sweep_cases import CASES, FOLDER

from inspections.numeric.sweeps.losses import loss_at
from inspections.numeric.sweeps.reading import read_sweep
from inspections.numeric.sweeps.records import SweepRefused
from inspections.numeric.words import FarEnd

# right answers are written with four or five digits
TOLERANCE_DB = 0.0001
TAKEN = [case for case in CASES if case.verdict != "reject"]
REFUSED = [case for case in CASES if case.verdict == "reject"]
# what a case warns of, in the words that say it
SAYS = {
    "04_names_glued_to_R.s2p": "No number follows R on the line with #",
    "05_second_option_line.s2p": "Line 3 is another line with #",
    "08_comment_says_S12_first.s2p": "A comment names S12 before S21",
    "20_s11_zero.s2p": "holds no reflection (S11)",
    "23_s21_is_s11.s2p": "S21 is the same as S11 at every point",
    "27_duplicate_frequency.s2p": "The file repeats 900 MHz. The mean of the dB was taken.",
    "34_decimal_comma.s2p": "decimal commas",
    "37_reference_75.s2p": "The file refers to 75 ohm. It was brought to 50 ohm",
    "41_d_exponent.s2p": "Exponents are written with D",
}
REASONS = {
    "21_nan_inf.s2p": "line 2 “890000000 nan nan nan nan 0 0 inf 0”: nan is no measured value",
    "25_ma_header_ri_data.s2p": "a magnitude cannot be negative",
    "32_header_only.s2p": "holds no lines of numbers",
    "39_time_domain.s2p": "line 1 “# SEC S RI R 50”: the unit “SEC” is not Hz, kHz, MHz or GHz",
    "42_no_option_line.s2p": "no line with # says unit and format",
    "45_short_last_row.s2p": "line 3 “900 -25 30 -1.31”: 4 numbers instead of 9",
    "55_one_port.s1p": "The sweep is of one port. Say whether the far end was open or shorted.",
}


def test_the_folder_holds_the_files_that_are_answered_and_no_other():
    others = {"README.md", "expected.json", ".gitattributes"}
    assert {path.name for path in FOLDER.iterdir()} - others == {case.file for case in CASES}


@pytest.mark.parametrize("case", TAKEN, ids=str)
def test_a_sound_file_gives_its_losses(case):
    sweep = read_sweep(case.path.read_bytes())
    far_end = case.far_end and FarEnd(case.far_end)
    losses = [loss_at(sweep, at_mhz, far_end=far_end) for at_mhz, _loss_db in case.points]
    assert [loss.loss_db for loss in losses] == pytest.approx([loss for _mhz, loss in case.points], abs=TOLERANCE_DB)
    said = [*sweep.warnings, *losses[0].warnings]
    assert len(said) == (case.verdict == "accept+warn")
    assert SAYS.get(case.file, "") in "".join(said)
    assert (case.file in SAYS) == bool(said)


@pytest.mark.parametrize("case", REFUSED, ids=str)
def test_an_unsound_file_is_refused_with_the_reason(case):
    with pytest.raises(SweepRefused) as refused:
        loss_at(read_sweep(case.path.read_bytes()), 900)
    assert REASONS[case.file] in refused.value.sentence(case.file)


def test_comments_are_kept_whatever_they_are_written_in():
    comments = {name: read_sweep((FOLDER / name).read_bytes()).comments for name in ENCODED}
    assert comments == ENCODED


ENCODED = {
    "11_latin1_comment.s2p": ("Opérateur équipe 2",),
    "12_degree_after_data.s2p": ("Temperature 21 °C, R = 50 Ω",),
    "35_port_impedance_comment.s2p": ("Port Impedance50 0 50 0",),
}


def test_another_reference_changes_reflection_too():
    """index of the case folder: S11 of case 37 becomes −15.12 dB."""
    sweep = read_sweep((FOLDER / "37_reference_75.s2p").read_bytes())
    assert sweep.return_loss_db == pytest.approx([15.12, 15.12], abs=0.005)
