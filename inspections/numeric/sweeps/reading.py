"""From the bytes of a sweep file to its Sweep, whatever its name says."""

import re

from .lines import lines_of
from .records import SweepRefused
from .table import head_place, read_table
from .table_head import WRITE_HEAD
from .touchstone import SAY_UNIT_AND_FORMAT, read_touchstone

_NUMBERS = re.compile(r"[-+.0-9][-+.,;0-9eEdD\s\"]*")


def read_sweep(content):
    """The Sweep of a file's bytes, Touchstone or CSV; SweepRefused where it is neither, or not sound.

    The kind is told by the content: names of files and their extensions are often wrong.
    """
    lines, comments = lines_of(content)
    if not lines[0].content.upper().startswith("[VERSION]") and head_place(lines) is not None:
        return read_table(lines, comments)
    first = lines[0]
    if first.content.startswith(("#", "[")):
        return read_touchstone(lines, comments)
    if not _NUMBERS.fullmatch(first.content):
        raise SweepRefused(
            "this begins no sweep.",
            f"Save the sweep as Touchstone (.s2p, .s1p) or as CSV. {WRITE_HEAD}",
            line=first.number,
            text=first.text,
        )
    if len(first.content.split()) > 2:
        first.refuse("no line with # says unit and format of the numbers.", SAY_UNIT_AND_FORMAT)
    first.refuse("no line names the columns and their units.", WRITE_HEAD)
