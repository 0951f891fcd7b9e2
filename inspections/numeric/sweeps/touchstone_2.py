"""The keywords of a Touchstone 2 file, each `[in brackets]` and followed by what it says."""

import re
from dataclasses import dataclass, replace

from .matrices import LOWER, ONE_PORT, S12_FIRST, S21_FIRST, UPPER
from .number_words import NumberWords
from .option_line import Option, check_ohms, read_option

_KEYWORD = re.compile(r"\[([^\]]*)\](.*)")
ORDERS = {"21_12": S21_FIRST, "12_21": S12_FIRST}
HALVES = {"LOWER": LOWER, "UPPER": UPPER}
KNOWN = (
    "VERSION",
    "NUMBER OF PORTS",
    "TWO-PORT DATA ORDER",
    "NUMBER OF FREQUENCIES",
    "REFERENCE",
    "MATRIX FORMAT",
    "MIXED-MODE ORDER",
    "NETWORK DATA",
    "NOISE DATA",
)
# said by others of the keywords, or of no matter for a loss
PASSED_OVER = ("NUMBER OF NOISE FREQUENCIES", "BEGIN INFORMATION")
EDITED = "Save the sweep again, or mend that line."


@dataclass(frozen=True)
class Head:
    """What stands before the numbers."""

    option: Option
    columns: tuple
    frequencies: int | None
    order_is_said: bool
    warnings: tuple[str, ...]


def read_version_2(lines):
    """(Head, lines of numbers) of a file that begins with [Version]."""
    keywords, options, data, warnings = {}, [], [], []
    section = None
    for line in lines:
        found = _KEYWORD.match(line.content)
        name = " ".join(found[1].upper().split()) if found else ""
        if section == "BEGIN INFORMATION":
            section = None if name == "END INFORMATION" else section
        elif found and name == "END":
            break
        elif found:
            section = name
            _keep(line, keywords, name, found[2].split(), warnings)
        elif line.content.startswith("#"):
            options.append(line)
        elif section == "NETWORK DATA":
            data.append(line)
        elif section == "REFERENCE":
            keywords[section][1].extend(line.content.split())
        elif section != "NOISE DATA":
            line.refuse("this belongs to no keyword.", EDITED)
    return _head(lines[0], keywords, options, warnings), data


def _keep(line, keywords, name, words, warnings):
    if name in keywords:
        line.refuse("this keyword stands twice.", EDITED)
    if name in KNOWN:
        keywords[name] = (line, words)
    elif name not in PASSED_OVER:
        warnings.append(f"The keyword in line {line.number} is not known and was passed over.")


def _head(first, keywords, options, warnings):
    said = {name: (line, " ".join(words).upper()) for name, (line, words) in keywords.items()}
    _refuse_what_is_not_ours(first, said, options)
    ports = _whole(first, said, "NUMBER OF PORTS")
    if ports not in (1, 2):
        line = said.get("NUMBER OF PORTS", (first, ""))[0]
        line.refuse("the file is not of one port or two.", "Save the S parameters of one port or of two.")
    columns, order_is_said = _columns(ports, said)
    frequencies = _whole(first, said, "NUMBER OF FREQUENCIES")
    if frequencies is None:
        warnings.append("The file does not say how many frequencies it holds. Look whether its end is there.")
    if len(options) > 1:
        warnings.append(f"Line {options[1].number} is another line with #. Only the first one counts.")
    return Head(_option(options[0], keywords, ports), columns, frequencies, order_is_said, tuple(warnings[:10]))


def _refuse_what_is_not_ours(first, said, options):
    if not re.fullmatch(r"2(\.[01])?", said["VERSION"][1]):
        first.refuse("the version is not 2.0 or 2.1.", "Save the sweep as Touchstone 1 or 2.")
    if "MIXED-MODE ORDER" in said:
        said["MIXED-MODE ORDER"][0].refuse("the file holds mixed modes.", "Save plain S parameters of two ports.")
    if not options:
        first.refuse("no line with # says unit and format of the numbers.", "Add it, for example # MHz S DB R 50.")
    if "NETWORK DATA" not in said:
        first.refuse("there is no [Network Data] in the file.", "It is cut off: save the sweep again.")


def _whole(first, said, name):
    """The whole number of a keyword; None where it does not stand in the file."""
    line, text = said.get(name, (first, None))
    if text is not None and not re.fullmatch(r"[0-9]{1,9}", text):
        line.refuse("this is no whole number.", EDITED)
    return None if text is None else int(text)


def _columns(ports, said):
    """(columns of the pairs, whether their order is certain)."""
    line, half = said.get("MATRIX FORMAT", (None, "FULL"))
    if half not in ("FULL", *HALVES):
        line.refuse("the matrix format is not Full, Lower or Upper.", EDITED)
    if ports == 1:
        return ONE_PORT, True
    if half in HALVES:
        return HALVES[half], True
    line, order = said.get("TWO-PORT DATA ORDER", (None, None))
    if order is not None and order not in ORDERS:
        line.refuse("the order is not 21_12 or 12_21.", EDITED)
    return ORDERS.get(order, S21_FIRST), order is not None


def _option(line, keywords, ports):
    option = read_option(line)
    if "REFERENCE" not in keywords:
        return option
    line, words = keywords["REFERENCE"]
    ohms = check_ohms(line, tuple(NumberWords().read(line, words)))
    if len(ohms) != ports:
        line.refuse("there is not one reference for each port.", EDITED)
    return replace(option, reference_ohm=ohms)
