"""What will be made of a keeper's sheets, before anything is stored; and stored, just as it was shown."""

import hashlib
from dataclasses import dataclass
from functools import cached_property

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.intake import FileSet, counts, depots_to_make
from fleet.services.locks import hold_pool

from ...files.differing_columns import mark_of_differences
from ...files.loading import check_pool_files, load_pool_files
from ...files.uploads import EXPIRED
from ...workbooks.sheet import Workbook
from ..meanings import SheetMeaning
from ..reading.known_selectors import known_pool
from ..reading.understanding import understand
from ..understood import Understood
from ..waiting_sheets import waiting_meanings, waiting_workbook
from .mending import Said, waiting_said

CHANGED = "Somebody changed the pool, or these sheets, since you looked. Look at what will be made of them now."


@dataclass(frozen=True)
class Made:
    """The sheets, what was said of them, the tables that they come to, and those checked against the pool."""

    workbook: Workbook
    meanings: tuple[SheetMeaning, ...]
    said: Said
    understood: Understood
    files: FileSet

    @cached_property
    def counts(self):
        return counts(self.files)

    @cached_property
    def depots(self):
        """How many are made because a sheet names them."""
        return len(depots_to_make(self.files))

    @property
    def new(self):
        return sum(count["stored"] for count in self.counts.values()) + self.depots

    @property
    def corrected(self):
        return sum(count.get("corrected", 0) for count in self.counts.values())

    @property
    def can_be_stored(self):
        return not self.files.errors and bool(self.new or self.corrected)

    @cached_property
    def mark(self):
        """Stands for exactly what is stored, so that what changed since it was shown is known."""
        digest = hashlib.sha256(repr((self.counts, self.files.errors.count)).encode())
        for file, table in self.understood.tables.items():
            for name, cells in table.cells.items():
                digest.update(f"\0{file}\0{name}\0".encode() + "\0".join(cells.tolist()).encode())
        digest.update(mark_of_differences(self.files).encode())
        return digest.hexdigest()[:16]


def make(file_hash, *, on):
    """The Made of the sheets that wait under this hash; None where none do, or nobody said yet what they mean."""
    sheets = _understand(file_hash, on)
    if sheets is None:
        return None
    said, understood = sheets[2:]
    return Made(*sheets, check_pool_files(understood.tables, on=on, differing=said.differing))


def store_made(file_hash, *, seen, by, on, confirmed=""):
    """Store what was shown as `seen`, in one transaction that has the pool to itself; the `Load`, None: nothing is new.

    ValidationError where it is no longer what was shown, and as `load_pool_files`.
    """
    with transaction.atomic():
        hold_pool()
        sheets = _understand(file_hash, on)
        if sheets is None:
            raise ValidationError(EXPIRED)
        said, understood = sheets[2:]
        asked = {"by": by, "on": on, "differing": said.differing, "confirmed": confirmed}
        files, load = load_pool_files(understood.tables, **asked)
        if Made(*sheets, files).mark != seen:
            raise ValidationError(CHANGED, code="stale")
        return load


def _understand(file_hash, on):
    workbook, meanings = waiting_workbook(file_hash), waiting_meanings(file_hash)
    if workbook is None or meanings is None:
        return None
    said = waiting_said(file_hash)
    return workbook, meanings, said, understand(workbook, meanings, said.mended, on=on, known=known_pool(on))
