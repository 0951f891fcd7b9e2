"""Broken sweep files, each given to `manage.py read_sweep`: it ends in a loss or in a refusal, never in anything else.

`python3 tests/fuzz_sweeps.py` tries 20,000; a number of files and a seed may follow. The suite tries some.
"""

import json
import math
import os
import re
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from io import StringIO
from pathlib import Path
from random import Random

from sweep_cases import FOLDER
from sweep_files import DRAW

FILES = 20_000
# of a file that is capped at 25,000 points
SLOW_S = 5
HOSTILE = (
    *("nan", "-inf", "1e999", "-1e999", "1e-999", "1.7e308", "-0", "--1", "1,2,3", "0x10", "1_0", "٣", "²", "1.#IND"),
    *("", "!", "#", "# GHz", "[End]", "[Version] 2.0", "[Reference]", "[Number of Ports] 9", "[", "]", '"', ";", ","),
    *("9" * 400, "1e", "D", "R", "R 0", "S21", "S12 S21 S11", "dB", "Hz", "freq"),
    *("\x00", "\x1b[31m", "\u202e", "\ufeff"),
)
EXCHANGED = (b" ", b",", b";", b"\t", b".", b"\n", b"-", b"#", b"0", b"9", b"e", b"(", b"dB", b"MHz")
# they name no line, since they are of the file as a whole
WHOLE = re.compile(
    r"The file holds no|The file is larger|This is [\w ]+, not text|There are no rows|The file says that it holds|"
    r"The file does not say in which order|The sweep is of|The sweep holds no S11"
)
REFUSAL = re.compile(
    r"(?P<file>[^,:]+)(?:, line (?P<line>[0-9]+)(?: “(?P<text>.*?)”)?)?: (?P<what>.+?\.) (?P<do>[A-Z].+\.)"
)
ANSWER = {"accepted", "loss_db", "at_mhz", "points", "from_mhz", "to_mhz", "warnings", "refusal"}


def broken(rng):
    """The bytes of a file of some kind, with one to four things wrong."""
    content = _whole_file(rng)
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        content = rng.choice(BREAK)(rng, content)
    return content


def _whole_file(rng):
    content = rng.choice(DRAW)(rng)[0] if rng.random() < 0.7 else rng.choice(CASE_FILES)
    # two bytes a letter, of which one changed makes no text: seldom, so that others get far
    return _whole_file(rng) if b"\0" in content and rng.random() < 0.8 else content


def _at(rng, content):
    return rng.randint(0, len(content))


def _change_bytes(rng, content):
    changed = bytearray(content)
    for _ in range(min(len(content), rng.randint(1, 3))):
        changed[rng.randrange(len(changed))] = rng.randrange(256)
    return bytes(changed)


def _change_digits(rng, content):
    changed = bytearray(content)
    digits = [place for place, byte in enumerate(changed) if byte in b"0123456789"]
    for place in rng.sample(digits, min(len(digits), rng.randint(1, 4))):
        changed[place] = rng.choice(b"0123456789-")
    return bytes(changed)


def _insert(rng, content):
    place = _at(rng, content)
    return content[:place] + rng.randbytes(rng.choice((1, 2, 50))) + content[place:]


def _cut(rng, content):
    return content[: _at(rng, content)]


def _take_out(rng, content):
    first, last = sorted((_at(rng, content), _at(rng, content)))
    return content[:first] + content[last:]


def _repeat(rng, content):
    first, last = sorted((_at(rng, content), _at(rng, content)))
    return content[:last] + content[first:last] * rng.choice((1, 2, 30)) + content[last:]


def _mix_lines(rng, content):
    lines = content.split(b"\n")
    rng.shuffle(lines)
    return b"\n".join(lines)


def _change_line(rng, content):
    lines = content.splitlines(keepends=True) or [b""]
    place = rng.randrange(len(lines))
    lines[place : place + 1] = rng.choice(([], [lines[place]] * rng.randint(2, 40), [lines[-1], lines[place]]))
    return b"".join(lines)


def _put_words(rng, content):
    words = re.split(rb"([\s,;]+)", content)
    for _ in range(rng.randint(1, 3)):
        words[rng.randrange(len(words))] = rng.choice(HOSTILE).encode("utf-8", "surrogatepass")
    return b"".join(words)


def _join(rng, content):
    return content + rng.choice(DRAW)(rng)[0]


def _exchange(rng, content):
    old, new = rng.sample(EXCHANGED, 2)
    return content.replace(old, new, rng.choice((1, -1)))


BREAK = (
    *(_change_bytes, _insert, _cut, _take_out, _repeat, _mix_lines, _join),
    *(_put_words, _put_words, _exchange, _exchange, _change_digits, _change_digits, _change_digits, _change_line),
)
CASE_FILES = [path.read_bytes() for path in sorted(FOLDER.iterdir()) if path.suffix.lower() not in (".md", ".json")]


def answers_to(path, rng):
    """(what the command prints for a file, its exit code), of some frequency and then of one that the sweep holds."""
    far_end = rng.choice(([], [], ["--far-end", "open"], ["--far-end", "short"]))
    answer, code = read(path, rng.choice((900, 890, 5000, 1e-9, 1e12)), far_end)
    yield answer, code
    if not answer["accepted"] and answer["from_mhz"]:
        yield read(path, rng.uniform(answer["from_mhz"], answer["to_mhz"]), far_end)


def read(path, at_mhz, far_end):
    from django.core.management import call_command

    printed = StringIO()
    try:
        call_command("read_sweep", str(path), "--format", "json", "--at", repr(at_mhz), *far_end, stdout=printed)
        code = 0
    except SystemExit as end:
        code = end.code
    return json.loads(printed.getvalue()), code


def wrong_with(answer, code, path):
    """What an answer should not be, in a sentence; None for one that is well."""
    if set(answer) != ANSWER or code != (0 if answer["accepted"] else 1):
        return f"not an answer: {code} {answer}"
    if answer["accepted"]:
        numbers = [answer[name] for name in ("loss_db", "at_mhz", "points", "from_mhz", "to_mhz")]
        sound = all(map(math.isfinite, numbers)) and answer["points"] > 0 and answer["loss_db"] >= -0.5
        return None if sound and answer["refusal"] is None else f"not a loss: {answer}"
    said = REFUSAL.fullmatch(answer["refusal"])
    if answer["loss_db"] is not None or said is None or said["file"] != path.name:
        return f"not a refusal: {answer}"
    if not said["line"] and not WHOLE.match(said["what"]):
        return f"names no line: {answer}"
    return None if answer["refusal"].isprintable() else f"not to be printed: {answer}"


def fuzz(files, seed, folder):
    """(how many ended in which way, [(seed, what was wrong)]) of broken files."""
    counts, found, path = Counter(), [], Path(folder) / "broken.s2p"
    for number in range(seed, seed + files):
        rng = Random(number)
        path.write_bytes(broken(rng))
        started = time.perf_counter()
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                answers = list(answers_to(path, rng))
            wrong = next(filter(None, (wrong_with(answer, code, path) for answer, code in answers)), None)
            counts["taken" if answers[-1][0]["accepted"] else "refused"] += 1
        except Exception:
            wrong = traceback.format_exc()
        if time.perf_counter() - started > SLOW_S:
            wrong = wrong or "slow"
        if wrong:
            found.append((number, wrong))
    return counts, found


def main(files=FILES, seed=0):
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inspections.project.settings")
    sys.path.insert(0, str(Path(__file__).parents[1]))
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("HALFPOWER_DATA", folder)
        django.setup()
        counts, found = fuzz(int(files), int(seed), folder)
    print(", ".join(f"{count:,} {way}" for way, count in counts.items()))
    for number, wrong in found[:20]:
        print(f"seed {number}: {wrong}")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main(*sys.argv[1:])
