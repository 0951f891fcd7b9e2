"""The stages of a load are measured, and add up. What they take is for reading, and no goal is tested here."""

import re
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from big_files import big_files
from load_speed import QUICK_ROWS, STAGES, measure

LINE = r"^( {2})?(\S.+?) {2,}([\d.]+) s +([\d.]+) s +([\d.]+) +([\d.]+)$"


@pytest.mark.django_db
def test_each_stage_has_its_line_and_they_add_up_to_the_load(capsys):
    measure(big_files(QUICK_ROWS))
    printed = capsys.readouterr().out
    rows = re.findall(LINE, printed, re.MULTILINE)
    wholes = {name: float(clock_s) for inside, name, clock_s, *_ in rows if not inside}
    parts = [float(clock_s) for inside, _, clock_s, *_ in rows if inside]
    assert list(wholes) == ["all files read, bare", "all rows inserted, bare", "loaded", "loaded again, nothing new"]
    assert len(parts) == len(STAGES) + 1 and min(parts) >= 0
    # each is printed to a hundredth
    assert sum(parts) == pytest.approx(wholes["loaded"], abs=0.005 * (len(parts) + 1))
    assert re.search(r"^[\d,]+ rows of files, stored as [\d,]+ rows; (sqlite|postgresql)$", printed, re.MULTILINE)
