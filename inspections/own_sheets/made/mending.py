"""What a keeper said of single cells of their sheets once they saw what will be made of them; kept beside the files."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.db import transaction

from fleet.intake import Answer, Differing
from fleet.services.locks import hold_pool

from ...files.uploads import read_beside, write_beside

MENDED = "mended.json"
# what becomes of cells that differ from what is stored while nobody chose
PROPOSED = Answer.FILL


@dataclass(frozen=True)
class Said:
    """`cells`: {(sheet, row, column): text} in place of what stands there. `left`: (sheet, row) that are left out.

    `answers`: {(file, column of ours): Answer} for cells that differ from what is stored; of others, what is empty is
    filled.
    """

    cells: Mapping[tuple[str, int, int], str] = field(default_factory=dict)
    left: frozenset[tuple[str, int]] = frozenset()
    answers: Mapping[tuple[str, str], str] = field(default_factory=dict)

    @property
    def mended(self):
        """As `understand` takes it: a row that is left out has a text for no column."""
        return {**self.cells, **{(sheet, row, None): "" for sheet, row in self.left}}

    @property
    def differing(self):
        return Differing(PROPOSED, self.answers)


def waiting_said(file_hash):
    """What was said so far of the sheets that wait under this hash."""
    kept = read_beside(file_hash, MENDED) or {"cells": [], "left": [], "answers": []}
    return Said(
        {(sheet, row, column): text for sheet, row, column, text in kept["cells"]},
        frozenset((sheet, row) for sheet, row in kept["left"]),
        {(file, column): Answer(answer) for file, column, answer in kept["answers"]},
    )


@transaction.atomic
def keep_said(file_hash, change):
    """Keep `change(what was said so far)`; of two people at once, the second adds to what the first said.

    Returns (Said before, Said now). ValidationError when the files wait no more.
    """
    hold_pool()
    before = waiting_said(file_hash)
    now = change(before)
    if now != before:
        write_beside(file_hash, MENDED, _as_json(now))
    return before, now


def _as_json(said):
    return {
        "cells": [[*place, text] for place, text in said.cells.items()],
        "left": sorted(map(list, said.left)),
        "answers": [[*column, str(answer)] for column, answer in said.answers.items()],
    }
