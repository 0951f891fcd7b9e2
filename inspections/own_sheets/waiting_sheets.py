"""What was said so far of sheets that wait under their hash."""

from ..files.uploads import read_beside, write_beside
from ..files.waiting_workbooks import waiting_workbook
from .meanings import as_json, from_json

__all__ = ["keep_waiting_meanings", "waiting_meanings", "waiting_workbook"]

MEANINGS = "meanings.json"


def waiting_meanings(file_hash):
    """What was said of the sheets that wait under this hash, a tuple of SheetMeaning; None before anything was said."""
    said = read_beside(file_hash, MEANINGS)
    return None if said is None else from_json(said)


def keep_waiting_meanings(file_hash, meanings):
    """Keep what was said beside the files for as long as they wait; ValidationError when they do no more."""
    write_beside(file_hash, MEANINGS, as_json(meanings))
