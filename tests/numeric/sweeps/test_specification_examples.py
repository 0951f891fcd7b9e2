"""Numbers of the examples in the Touchstone specifications 1.1 and 2.0, as read by an independent library.

Source: rf.md section 5 of the project's checks, examples 1 to 7; read there in scikit-rf 2.2.0, tolerance 1e-6 of the
S parameter, in dB as printed.
"""

import numpy as np
import pytest

from inspections.numeric.sweeps.losses import loss_curve
from inspections.numeric.sweeps.matrices import for_standard_reference
from inspections.numeric.sweeps.reading import read_sweep
from inspections.numeric.sweeps.records import SweepRefused

AMPLIFIER = """#
! with noise
2 .95 -26 3.57 157 .04 76 .66 -14
22 .60 -144 1.30 40 .14 40 .56 -85
! noise
4 .7 .64 69 .38
18 2.7 .46 -33 .40
"""
AMPLIFIER_2 = """[Version] 2.0
#
[Number of Ports] 2
[Two-Port Data Order] 21_12
[Number of Frequencies] 2
[Number of Noise Frequencies] 2
[Reference] 50 {}
[Network Data]
2 .95 -26 3.57 157 .04 76 .66 -14
22 .60 -144 1.30 40 .14 40 .56 -85
[Noise Data]
4 .7 .64 69 19
18 2.7 .46 -33 20
[End]
"""
FOUR_PORTS = """# GHz S MA R 50
5.00000 0.60 161.24 0.40 -42.20 0.42 -66.58 0.53 -79.34 ! row 1
        0.40 -42.20 0.60 161.20 0.53 -79.34 0.42 -66.58 ! row 2
        0.42 -66.58 0.53 -79.34 0.60 161.24 0.40 -42.20 ! row 3
        0.53 -79.34 0.42 -66.58 0.40 -42.20 0.60 161.24 ! row 4
"""


def read(text):
    return read_sweep(text.encode())


def refusal(text):
    with pytest.raises(SweepRefused) as refused:
        read(text)
    return str(refused.value)


def test_one_port_in_magnitude_and_angle():
    sweep = read("# MHz S MA R 50\n2.000 0.894 -12.136\n")
    assert sweep.s[0, 0, 0] == pytest.approx(0.874020 - 0.187948j, abs=1e-6)
    assert sweep.return_loss_db == pytest.approx([0.9732], abs=5e-5)


def test_two_ports_at_uneven_steps():
    rows = ["1 0 0 -0.0003 -0.0021 0 0 0 0", "2 0 0 -0.0096 -0.0298 0 0 0 0", "10 0 0 -0.0134 0.0379 0 0 0 0"]
    sweep = read("\n".join(["# GHz S RI R 50.0", *rows]))
    assert list(sweep.frequency_mhz) == [1000, 2000, 10_000]
    assert sweep.loss_db == pytest.approx([53.468, 30.087, 27.916], abs=0.0005)


@pytest.mark.parametrize("text", [AMPLIFIER, AMPLIFIER_2.format("50")])
def test_s21_stands_before_s12_and_noise_is_none_of_it(text):
    sweep = read(text)
    assert list(sweep.frequency_mhz) == [2000, 22_000]
    assert -sweep.loss_db == pytest.approx([11.0534, 2.2789], abs=5e-5)
    assert 20 * np.log10(abs(sweep.s[0, 0, 1])) == pytest.approx(-27.9588, abs=5e-5)
    with pytest.raises(SweepRefused, match=r"S21 is \+11\.05 dB at 2,000 MHz, and no cable has gain"):
        loss_curve(sweep)


@pytest.mark.parametrize("ohm", [(50.0, 25.0), (75.0, 75.0), (12.5, 300.0)])
def test_another_reference_is_brought_to_50_ohm_as_by_impedances(ohm):
    """Outside check: by way of the impedance matrix, Z = √R (1 + S) (1 − S)⁻¹ √R at either reference."""
    s = read(AMPLIFIER).s
    root, one = np.diag(np.sqrt(ohm)), np.eye(2)
    z = root @ (one + s) @ np.linalg.inv(one - s) @ root / 50
    assert np.allclose(for_standard_reference(s, ohm), (z - one) @ np.linalg.inv(z + one), atol=1e-12)


def test_each_port_has_its_own_reference():
    said, twice = read(AMPLIFIER_2.format("25.0")), read(AMPLIFIER.replace("#", "# R 50 25", 1))
    assert np.array_equal(said.s, twice.s)
    assert np.allclose(said.s, for_standard_reference(read(AMPLIFIER).s, (50, 25)))


@pytest.mark.parametrize("letter", "HGYZ")
def test_other_parameters_than_s_are_refused(letter):
    text = f"# kHz {letter} MA R 1\n2 .95 -26 3.57 157 .04 76 .66 -14\n"
    assert f"the numbers are {letter} parameters, not S parameters. Save the sweep as S parameters." in refusal(text)


def test_four_ports_are_refused():
    assert refusal(FOUR_PORTS).startswith("line 3 “0.40 -42.20 0.60 161.20 0.53 -79.34 0.42 -66.58 ! row 2”: 8 numbers")
