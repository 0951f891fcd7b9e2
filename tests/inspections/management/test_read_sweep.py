"""`read_sweep` prints the loss of a file for people and programs, and says by its exit code whether it was taken."""

import json
import os
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from sweep_cases import CASES, FOLDER

from inspections.numeric.sweeps.lines import MOST_BYTES

ROOT = Path(__file__).parents[3]


def text_of(file, *options):
    printed = StringIO()
    call_command("read_sweep", str(FOLDER / file), *options, stdout=printed)
    return printed.getvalue().splitlines()


def json_of(path, *options):
    """(what is printed, exit code)."""
    printed, code = StringIO(), 0
    try:
        call_command("read_sweep", str(path), "--format", "json", *options, stdout=printed)
    except SystemExit as end:
        code = end.code
    return json.loads(printed.getvalue()), code


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.file}-{case.far_end}")
def test_programs_are_told_the_right_answer_of_every_case(case):
    """Tolerance of the case folder: 0.002 dB."""
    at_mhz, loss_db = case.points[-1] if case.points else (900, None)
    far_end = ["--far-end", case.far_end] if case.far_end else []
    answer, code = json_of(case.path, "--at", str(at_mhz), *far_end)
    assert list(answer) == [
        *("accepted", "loss_db", "at_mhz", "points", "from_mhz", "to_mhz"),
        *("warnings", "refusal"),
    ]
    assert (answer["at_mhz"], code) == (at_mhz, int(case.verdict == "reject"))
    assert (answer["accepted"], bool(answer["warnings"])) == (code == 0, case.verdict == "accept+warn")
    assert answer["loss_db"] == (loss_db and pytest.approx(loss_db, abs=0.002))
    assert (answer["refusal"] or case.file).startswith(case.file)
    assert (answer["refusal"] is None) == answer["accepted"]


def test_programs_are_told_the_points_and_their_ends():
    answer, _code = json_of(FOLDER / "27_duplicate_frequency.s2p")
    assert [answer[name] for name in ("points", "from_mhz", "to_mhz")] == [3, 890, 910]


def test_what_was_read_before_a_refusal_is_told():
    answer, code = json_of(FOLDER / "02_indented_option.s2p", "--at", "905")
    assert (code, answer["points"], answer["loss_db"]) == (1, 2, None)
    assert answer["refusal"] == (
        "02_indented_option.s2p: The sweep is of 890 to 900 MHz, without 905 MHz. Sweep over that frequency, or ask "
        "for one that the sweep holds."
    )


def test_people_are_told_in_sentences():
    assert text_of("05_second_option_line.s2p", "--at", "896") == [
        "1.31 dB at 896 MHz.",
        "The sweep is 2 points from 890 to 900 MHz.",
        "Look: Line 3 is another line with #. Only the first one counts.",
    ]
    assert text_of("55_one_port.s1p", "--far-end", "short") == [
        "1.31 dB at 900 MHz.",
        "It is half the return loss with the far end shorted, its mean over the whole sweep.",
        "The sweep is 5 points from 880 to 920 MHz.",
    ]
    assert text_of("28_single_point.s2p") == [
        "1.31 dB at 900 MHz.",
        "The sweep is one point at 900 MHz: it shows no curve and no distance to a fault.",
    ]


def test_people_are_told_what_to_do_about_a_refusal():
    with pytest.raises(CommandError) as refused:
        text_of("55_one_port.s1p")
    assert str(refused.value) == (
        "55_one_port.s1p: The sweep is of one port. Say whether the far end was open or shorted. A cable on its "
        "element has no loss to be read. Write --far-end open or --far-end short."
    )


def test_a_file_that_cannot_be_opened_is_refused(tmp_path):
    for path, why in ((tmp_path / "none.s2p", "No such file or directory"), (tmp_path, "Is a directory")):
        answer, code = json_of(path)
        said = f"{path.name}: The file cannot be read: {why}. Look whether its name is right."
        assert (answer["refusal"], code) == (said, 1)


def test_a_file_that_is_too_large_is_not_read_to_its_end(tmp_path):
    large = tmp_path / "large.s2p"
    with large.open("wb") as file:
        file.truncate(400 * MOST_BYTES)
    answer, _code = json_of(large)
    assert answer["refusal"].startswith("large.s2p: The file is larger than 5 MB.")


@pytest.mark.parametrize("at", ["nan", "0", "-900", "1e999", "here"])
def test_no_frequency_is_refused(at):
    with pytest.raises(CommandError, match=f"“{at}” is not a frequency: write a number of MHz such as 900"):
        text_of("24_db_half_power.s2p", f"--at={at}")


@pytest.mark.process
def test_a_program_sees_a_refusal_by_the_exit_code_and_reads_it(tmp_path):
    environment = os.environ | {"HALFPOWER_DATA": str(tmp_path)}
    environment |= {"DJANGO_SETTINGS_MODULE": "inspections.project.settings"}
    command = [sys.executable, "-m", "django", "read_sweep", str(FOLDER / "32_header_only.s2p"), "--format", "json"]
    ended = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True)
    assert (ended.returncode, ended.stderr) == (1, "")
    assert json.loads(ended.stdout)["accepted"] is False
