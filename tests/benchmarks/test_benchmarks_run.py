"""The benchmarks run and print their tables. What they measure is for reading, and no goal is tested here."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.process
FOLDER = Path(__file__).parent
WORLDS = 13


def printed_by(script, *options):
    command = [sys.executable, "-W", "error", str(FOLDER / script), "--quick", *options]
    return subprocess.run(command, capture_output=True, text=True, check=True, timeout=300).stdout


def test_coverage_prints_a_share_for_every_kind_and_size_of_pool():
    printed = printed_by("coverage.py")
    with_error = r"([\d.]+) ± [\d.?]+!? +"
    rows = re.findall(rf"^ +(8|100) +\d+ +([\d.]+) +{with_error}{with_error}([\d.]+) ", printed, re.MULTILINE)
    assert [size for size, *_ in rows] == ["8", "100"] * WORLDS
    for row in rows:
        assert all(0 <= float(share) / 100 <= 1 for share in row[1:])
        inside, before, after = map(float, row[2:])
        assert abs(inside + before + after - 100) < 0.2
    assert len(re.findall(r"^\S.* +[\d.]+!? / [\d.]+!? +[\d.]+!? / [\d.]+!?$", printed, re.MULTILINE)) == WORLDS
    assert len(re.findall(r"^ +0\.\d-[01]\.\d ", printed, re.MULTILINE)) == WORLDS * 10


def test_rules_are_compared_in_every_kind_of_pool_and_alike_each_time():
    printed = printed_by("rules.py")
    rows = re.findall(r"^  (three years|150 events|trend, 5 % risk|oracle) +([\d.]+) ± ", printed, re.MULTILINE)
    assert [rule for rule, _ in rows] == ["three years", "150 events", "trend, 5 % risk", "oracle"] * 6
    assert all(0 <= float(share) / 100 <= 1 for _, share in rows)
    assert all(float(share) == 0 for rule, share in rows if rule == "oracle")
    assert printed_by("rules.py", "--world", "slow wear").split("\n\n")[1] == printed.rstrip().split("\n\n")[-1] + "\n"


def test_intervals_of_limits_are_counted_for_every_size_and_length():
    printed = printed_by("limit_coverage.py")
    rows = re.findall(r"^ +(8|160) +\d+ +([\d.]+) m +(\d+)!? *([\d.]+|inf) +(\d+) +\d+$", printed, re.MULTILINE)
    assert [(size, length) for size, length, *_ in rows] == [(size, m) for size in ("8", "160") for m in ("1.1", "2.1")]
    assert all(0 <= float(share) <= 100 for _, _, held, _, narrow in rows for share in (held, narrow))


def test_right_and_wrong_models_are_compared_with_their_lives():
    printed = printed_by("agreement_power.py")
    rows = re.findall(r"^ +160 +1 +(\d+) +(\d+) +([\d.]+) +-?[\d.]+ +-?[\d.]+$", printed, re.MULTILINE)
    assert len(rows) == 2
    assert all(int(over) > 10 and float(times) > 0 for over, _, times in rows)


def test_trials_of_rules_are_held_against_the_truth():
    printed = printed_by("rule_trials.py")
    rows = re.findall(
        r"^    (\S.*?) +(cables|events over|late) +([\d.]+) +(\d+) +(\d+) +(\d+) +\d+%$", printed, re.MULTILINE
    )
    played = [(rule, what) for rule in ("3 years", "limits by length") for what in ("events over", "late")]
    played += [("trend, 12 months", what) for what in ("cables", "events over", "late")]
    assert [(rule, what) for rule, what, *_ in rows] == played
    assert all(int(inside) + int(below) + int(above) == 100 for *_, inside, below, above in rows)
    # 24 cables, the shortest of which last longer than the rule of thumb has it
    assert 4 < float(rows[4][2]) < 8


def test_intervals_of_costs_are_counted_for_every_length_and_cost_of_an_event():
    printed = printed_by("rule_costs.py")
    rows = re.findall(
        r"^ +(0\.5|5) +(\S+)(?: m)?  (\D+?) +(inf|-?[\d.]+) +(\d+)!? +(\d+) +(\d+) +(?:\d+%|open) +(\d+)$",
        printed,
        re.MULTILINE,
    )
    of_length = ["cheapest age", "its cost a year", "today’s cost", "today costs more"]
    assert [(cost, length, what) for cost, length, what, *_ in rows] == [
        (cost, length, what)
        for cost in ("0.5", "5")
        for length, asked in (("0.6", of_length), ("2.1", of_length), ("3", of_length), ("all", of_length[-1:]))
        for what in asked
    ]
    assert all(int(held) + int(below) + int(above) == 100 for *_, held, below, above, _ in rows)
    # long ones that are changed every three years by chance of being over cost more than short ones
    truth = {row[:3]: float(row[3]) for row in rows}
    assert truth["5", "3", "today’s cost"] > truth["5", "0.6", "today’s cost"] == 8.0
    assert len(re.findall(r"nearly: dearest end \d+ % .* dearer$", printed, re.MULTILINE)) == 6


def test_slow_and_greedy_callers_are_measured():
    printed = printed_by("callers.py")
    rows = re.findall(r"^(.+?) {2,}([\d.]+) +([\d.]+) +([\d.]+) MB$", printed, re.MULTILINE)
    assert len(rows) == 6
    assert all(0 < float(median) <= float(worst) for _, median, worst, _ in rows)


def test_pages_are_measured():
    printed = printed_by("page_speed.py")
    rows = re.findall(r"^(.+?) {2,}([\d.]+) +[\d.]+ +(\d+) +([\d.]+) +([\d.]+)$", printed, re.MULTILINE)
    names = [name for name, *_ in rows]
    assert (names[:3], names[-1]) == (["Sign-in page", "Today", "Due"], "Due, 50 lines")
    assert all(float(ms) > 0 and float(plain) >= float(sent) > 0 for _, ms, _, plain, sent in rows)


def test_bands_of_observed_lives_are_held_against_the_truth():
    printed = printed_by("life_coverage.py")
    assert len(re.findall(r"160 cables, .*: [123] pools", printed)) == 3
    rows = re.findall(r"^ +(\S+ years|5% over) +([\d.]+) +(\d+) +(\d+) +(\d+) +[\d.]+$", printed, re.MULTILINE)
    assert len(rows) == 3 * 10
    assert all(int(inside) + int(below) + int(above) == 100 for *_, inside, below, above in rows)
