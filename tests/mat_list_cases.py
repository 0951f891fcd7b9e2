"""What lists of mat numbers say, for both readers: fleet/parsing/mat_lists.py and static/js/mat_list.js."""

from typing import NamedTuple

# numbers of the mats that there are, the last of which is withdrawn
NUMBERED = [*(f"M-{number:03d}" for number in range(1, 9)), "Long mat 1", "M-009"]
OURS = [*map(str, range(1, 9)), *(f"K{number}" for number in range(1, 7)), "101", "102", "103", "9"]
ODD = ["1", "2", "and", "(old)", "A-", "not 4", "25-2", "a1", "A1", "ß 1", "3"]


class Case(NamedTuple):
    """`names`: of all it names, withdrawn or not. `excepting`: what keeps all of it from being taken."""

    pool: list[str]
    text: str
    names: list[str]
    unknown: list[str] = []
    left_out: list[str] = []
    excepting: list[str] = []


CASES = [
    Case(NUMBERED, "m-001, M–003; 5\nM-7", ["M-001", "M-003", "M-005"], ["M-7"]),
    Case(NUMBERED, "M-002 to 4", ["M-002", "M-003", "M-004"]),
    Case(NUMBERED, "M-002..m-004", ["M-002", "M-003", "M-004"]),
    Case(NUMBERED, "m-002-M-004 6 -8", ["M-002", "M-003", "M-004", "M-006", "M-007", "M-008"]),
    Case(NUMBERED, "2 – 4 17 1", ["M-002", "M-003", "M-004"], ["17", "1"]),
    Case(NUMBERED, "7-11", ["M-007", "M-008", "M-009"], ["10", "11"]),
    Case(NUMBERED, "M-0O3, long mat 1, M-009", ["Long mat 1", "M-009"], ["M-0O3"]),
    Case(NUMBERED, "all", NUMBERED[:-1]),
    Case(NUMBERED, "All of the mats, 009", NUMBERED),
    Case(NUMBERED, "#3. “2” 'M-004'", ["M-003", "M-002", "M-004"]),
    Case(NUMBERED, " ,;\n ", []),
    Case(OURS, "4 and K5", ["4", "K5"]),
    Case(OURS, "4 und K5 et 6 & 7 + 8 y 3", ["4", "K5", "6", "7", "8", "3"]),
    Case(OURS, "101 bis 103", ["101", "102", "103"]),
    Case(OURS, "von 101 TO 103 or K1", ["101", "102", "103", "K1"]),
    Case(OURS, "5-7 und 103 (old)", ["5", "6", "7", "103"], [], ["(old)"]),
    Case(OURS, "K1/K2, 4/5+6 [torn], mats 1-2 and no. 3", ["K1", "K2", "4", "5", "6", "1", "2", "3"], [], ["[torn]"]),
    Case(OURS, "4/5 and 4 5", ["4", "5"]),
    Case(OURS, "alle Matten", OURS[:-1]),
    Case(OURS, "* K1\n* K2\n• 3", ["K1", "K2", "3"]),
    Case(OURS, "K1 mats ²", ["K1"], ["mats", "²"]),
    Case(OURS, "K1 spare y mat", ["K1"], ["spare", "y", "mat"]),
    Case(OURS, "25-2, 1-2000, 4 to K6, 1…3", ["1", "2", "3"], ["25-2", "1-2000", "4 to K6"]),
    Case(OURS, "K1 - K3 K5–6", ["K1", "K2", "K3", "K5", "K6"]),
    Case(OURS, "M 001 (old", [], ["M", "001", "(old"]),
    Case(OURS, "not 4", [], ["not 4"], [], ["not 4"]),
    Case(OURS, "1-5, 7 ohne 3", [], ["7 ohne 3"], [], ["7 ohne 3"]),
    Case(OURS, "all except 4", [], ["all except 4"], [], ["all except 4"]),
    Case(OURS, "1-5 (not 4) (old)", [], ["(not 4)"], ["(old)"], ["(not 4)"]),
    Case(OURS, "1-5 Außer 4\n6", [], ["1-5 Außer 4"], [], ["1-5 Außer 4"]),
    Case(OURS, "1-3 (not washed)", ["1", "2", "3"], [], ["(not washed)"]),
    Case(ODD, "1 and 2 (old)\n(old)", ["1", "and", "2", "(old)"]),
    Case(ODD, "A- 1, not 4, 25-2", ["A-", "1", "not 4", "25-2"]),
    Case(ODD, "a1 A1, SS 1", ["a1", "A1", "ß 1"]),
]
