"""Broken sweep files end in words, tried small; `fuzz_sweeps.py` says how to try it at length."""

from pathlib import Path

import pytest
from fuzz_sweeps import fuzz, wrong_with
from sizes import examples

FILES = 200
BROKEN = Path("broken.s2p")
TAKEN = {"accepted": True, "loss_db": 1.3, "at_mhz": 900, "points": 2, "from_mhz": 890, "to_mhz": 900}
TAKEN |= {"warnings": [], "refusal": None}
REFUSED = dict.fromkeys(TAKEN) | {"accepted": False, "warnings": [], "at_mhz": 900}
WELL = "broken.s2p, line 2 “900 x 0”: “x” is not a number. Write the numbers like 1.31."


def test_broken_files_are_read_or_refused_in_words(tmp_path):
    counts, found = fuzz(examples(FILES), 0, tmp_path)
    assert found == []
    assert min(counts["taken"], counts["refused"]) > FILES / 20


@pytest.mark.parametrize(("answer", "code", "wrong"), [
    (TAKEN, 0, None),
    (REFUSED | {"refusal": WELL}, 1, None),
    (REFUSED | {"refusal": "broken.s2p: The file holds no sweep. Save it again."}, 1, None),
    (TAKEN, 1, "not an answer"),
    (REFUSED | {"refusal": WELL}, 0, "not an answer"),
    (TAKEN | {"loss_db": float("nan")}, 0, "not a loss"),
    (TAKEN | {"loss_db": -3.0}, 0, "not a loss"),
    (TAKEN | {"refusal": WELL}, 0, "not a loss"),
    (REFUSED | {"refusal": "could not convert string to float"}, 1, "not a refusal"),
    (REFUSED | {"refusal": WELL.replace("broken", "other")}, 1, "not a refusal"),
    (REFUSED | {"refusal": "broken.s2p, line 2 “900 x 0”: “x” is not a number."}, 1, "not a refusal"),
    (REFUSED | {"refusal": "broken.s2p: “x” is not a number. Write the numbers like 1.31."}, 1, "names no line"),
    (REFUSED | {"refusal": WELL.replace("900 x", "\x1b[2J")}, 1, "not to be printed"),
])  # fmt: skip
def test_what_is_wrong_with_an_answer_is_found(answer, code, wrong):
    assert (wrong_with(answer, code, BROKEN) or "None").split(":")[0] == str(wrong)
