"""What is refused names the line, what stands there and what to do; what is odd is taken and told."""

import pytest

from inspections.numeric.sweeps.lines import MOST_BYTES, MOST_POINTS
from inspections.numeric.sweeps.reading import read_sweep
from inspections.numeric.sweeps.records import SweepRefused

ROW = "900 -25 30 -1.31 -100 -1.31 -100 -26 40"
VERSION_2 = """[Version] 2.0
# MHz S DB
[Number of Ports] 2
[Two-Port Data Order] 21_12
[Number of Frequencies] 1
[Network Data]
900 -25 30 -1.31 -100 -1.45 -100 -26 40
[End]"""


def refusal(content):
    with pytest.raises(SweepRefused) as refused:
        read_sweep(content if isinstance(content, bytes) else content.encode())
    assert refused.value.do
    return refused.value.sentence("a.s2p")


@pytest.mark.parametrize(("content", "said"), [
    (b"", "a.s2p: The file holds no sweep. Save the sweep again and look whether the file grows."),
    ("! only a comment", "a.s2p: The file holds no sweep."),
    (b"PK\x03\x04" + bytes(50), "a.s2p: This is a zip or spreadsheet file, not text. Save the sweep as Touchstone"),
    (b"\x80\x04\x95\x00\x00K\x01.", "a.s2p: This is binary content, not text."),
    ("Dear bench,", "a.s2p, line 1 “Dear bench,”: this begins no sweep. Save the sweep as Touchstone (.s2p, .s1p) or"),
    ("# MHz\n900 " + "1 " * 600, "the line has 1,203 characters. Save the sweep with each frequency on its own line."),
    ("[Network Data]\n900 1 2", "line 1 “[Network Data]”: this is a keyword of version 2, and the file does not begin"),
    ("# MHz DB\n900 -1 0\n901 x\x1b[2J 0", "line 3 “901 x�[2J 0”: “x�[2J” is not a number. Write the numbers like"),
    ("# MHz DB\n900 1_0 0", "“1_0” is not a number"),
    ("# MHz DB\n900 ١ 0", "“١” is not a number"),
    ("# MHz DB\n900 1,3,1 0", "“1,3,1” is not a number"),
    ("# MHz DB\n900,5 -1.31 0", "line 2 “900,5 -1.31 0”: numbers have decimal commas and decimal points in the same"),
    ("# MHz DB\n900 -1e400 0", "“-1e400” is larger than any number"),
    ("# MHz DB\n900 1e300 0", "line 2 “900 1e300 0”: the numbers give no finite S parameters."),
    ("# MHz DB\n900 1.#QNAN 0", "1.#QNAN is no measured value. Calibrate the analyser, sweep and save again."),
    ("# THz DB\n900 -1 0", "line 1 “# THz DB”: the unit “THZ” is not Hz, kHz, MHz or GHz."),
    ("# MHz GHz\n900 -1 0", "the unit is said twice, and differs"),
    ("# MHz DB R 0\n900 -1 0", "the reference is no resistance above zero"),
    ("# MHz DB R 50 75\n900 -1 0", "there are more references than ports"),
    ("# MHz S DB now\n900 -1 0", "“NOW” is no word of the line with #. Write it as # MHz S DB R 50"),
    (f"# GHz S DB\n{ROW.replace('900', '900000000')}", "this is no frequency of a sweep. Look whether the file names"),
    ("# MHz DB\n-900 -1 0\n900 -1 0", "line 2 “-900 -1 0”: this is no frequency of a sweep."),
    ("# GHz DB\n0.9 -1 0\n1e307 -1 0", "line 3 “1e307 -1 0”: this is no frequency of a sweep."),
    ("# MHz DB R 1e-300\n900 -1 0", "line 2 “900 -1 0”: the numbers give no finite S parameters."),
    (f"# MHz S DB\n{ROW}\n0.5 1 .2 3 4\n{ROW}", "line 4 “900 -25 30 -1.31 -100 -1.31 -100 -26 40”: 9 numbers instead"),
    (f"# MHz S DB\n{ROW}\n901 -25 30 -1.31 -100", "line 3 “901 -25 30 -1.31 -100”: 5 numbers instead of 9."),
    ("# MHz S MA\n900 .1 9 .8 -9 .8 -9 .1 9\n901 .1 9 .8 -9", "line 3 “901 .1 9 .8 -9”: 5 numbers instead of 9."),
    ("# MHz S MA\n900 .1 9 .8 -9 .8 -9 .1 9\n890 .1 9 .8 -9", "line 3 “890 .1 9 .8 -9”: 5 numbers instead of 9."),
    ("# MHz DB\n900 1", "2 numbers a frequency are neither one port nor two."),
])  # fmt: skip
def test_a_file_is_refused_in_words(content, said):
    assert said in refusal(content)


@pytest.mark.parametrize(("line", "instead", "said"), [
    ("[Version] 2.0", "[Version] 3.0", "line 1 “[Version] 3.0”: the version is not 2.0 or 2.1."),
    ("# MHz S DB", "", "no line with # says unit and format of the numbers. Add it"),
    ("[Number of Ports] 2", "[Number of Ports] 4", "line 3 “[Number of Ports] 4”: the file is not of one port or two."),
    ("[Number of Ports] 2", "[Number of Ports] two", "line 3 “[Number of Ports] two”: this is no whole number."),
    ("[Number of Ports] 2", "", "the file is not of one port or two"),
    ("[Number of Ports] 2", "[Number of Ports] 1", "9 numbers instead of 3"),
    ("[Two-Port Data Order] 21_12", "", "does not say in which order S21 and S12 stand, and they differ. Add the line"),
    ("[Two-Port Data Order] 21_12", "[Two-Port Data Order] 22_11", "the order is not 21_12 or 12_21"),
    ("[Two-Port Data Order] 21_12", "[Matrix Format] Half", "the matrix format is not Full, Lower or Upper"),
    ("[Two-Port Data Order] 21_12", "[Reference] 50", "there is not one reference for each port"),
    ("[Two-Port Data Order] 21_12", "[Mixed-Mode Order] D1,2", "the file holds mixed modes"),
    ("[Two-Port Data Order] 21_12", "[Version] 2.0", "this keyword stands twice"),
    ("[Two-Port Data Order] 21_12", "21_12", "line 4 “21_12”: this belongs to no keyword"),
    ("[Number of Frequencies] 1", "[Number of Frequencies] 2", "says that it holds 2 frequencies, and holds 1. It"),
    ("[Network Data]", "[Begin Information]", "there is no [Network Data] in the file. It is cut off"),
])  # fmt: skip
def test_what_a_file_of_version_2_leaves_open_is_refused(line, instead, said):
    assert said in refusal(VERSION_2.replace(line, instead))


@pytest.mark.parametrize(("line", "instead", "said"), [
    ("[Number of Frequencies] 1", "", "The file does not say how many frequencies it holds."),
    ("[Number of Frequencies] 1", "[Number of Frequencies] 1\n[Bench] 7", "keyword in line 6 is not known and was"),
    ("# MHz S DB", "# MHz S DB\n# GHz S MA", "Line 3 is another line with #. Only the first one counts."),
    ("-1.45", "-1.31", None),
    ("[End]", "", None),
])  # fmt: skip
def test_what_is_odd_in_version_2_is_taken_and_told(line, instead, said):
    sweep = read_sweep(VERSION_2.replace(line, instead).encode())
    assert sweep.loss_db == pytest.approx([1.31])
    assert [said in warning for warning in sweep.warnings] == [True] * bool(said)


def test_without_an_order_s21_that_equals_s12_needs_none():
    sweep = read_sweep(VERSION_2.replace("[Two-Port Data Order] 21_12\n", "").replace("-1.45", "-1.31").encode())
    assert sweep.loss_db == pytest.approx([1.31])
    assert ["order" in warning for warning in sweep.warnings] == [True]


def test_a_frequency_beyond_all_analysers_is_told_beside_sound_ones():
    sweep = read_sweep(f"# MHz S DB\n{ROW.replace('900', '0.3')}\n{ROW}".encode())
    assert sweep.from_mhz == 0.3
    (warning,) = sweep.warnings
    assert warning == "Some frequencies lie outside 1 MHz to 20 GHz. Look whether the unit of frequency is right."


@pytest.mark.parametrize("text", [
    "# R 50 db s kHz\n900000 -1.31 0",
    "# MHz S R 50\n900 0.86 0",
    "# RI\n0.9 0.86 0",
    "#ri hz R50.0\n9e8 0.86 0",
    "  #\tMHZ\tR 50\n900 .86 0",
])  # fmt: skip
def test_words_of_the_line_with_the_hash_stand_in_any_order(text):
    """rf.md section 5: all legal, and refused by readers that go by position."""
    sweep = read_sweep(text.encode())
    assert list(sweep.frequency_mhz) == [900]
    assert sweep.return_loss_db == pytest.approx([1.31], abs=0.0001)
    assert sweep.warnings == ()


def test_sizes_are_capped():
    assert "The file is larger than 5 MB. Save at most 25,000 points of one cable." in refusal(b"#" * (MOST_BYTES + 1))
    rows = "\n".join(f"{mhz} -1 0" for mhz in range(100, 100 + MOST_POINTS))
    assert read_sweep(f"# MHz DB\n{rows}".encode()).points == MOST_POINTS
    assert "line 25002 “99 -1 0”: the sweep has more than 25,000 points." in refusal(f"# MHz DB\n{rows}\n99 -1 0")
    table = "\n".join(f"{mhz},-1" for mhz in range(100, 101 + MOST_POINTS))
    assert "the sweep has more than 25,000 points." in refusal(f"Frequency (MHz),S21 (dB)\n{table}")
    assert "line 100001 “# MHz”: the file has more than 100,000 lines." in refusal("# MHz\n" * (MOST_BYTES // 6))
