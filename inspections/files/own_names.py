"""Which of the files that came are a keeper's own sheets, and which are Halfpower's own files."""

import re

from django.core.exceptions import ValidationError

from fleet.intake import named
from fleet.parsing.encodings import NotText, decoded

from .sets import FILE_NAMES, LAYOUTS

WORKBOOKS = (".xlsx", ".xlsm", ".xls", ".ods")
TEXTS = (".csv", ".tsv", ".tab")
# of the first line, which may be long
_FIRST = 10_000
_KEYS = {layout.file: {column.name for column in layout.key} for layout in LAYOUTS}


def own_sheets_among(contents):
    """{name: bytes} of a keeper's own sheets among these (name, bytes); none where all are Halfpower's files.

    A file under one of our names with other headings is one where no other file is ours. ValidationError where the two
    come together, or a name comes twice: nobody could say what belongs to what.
    """
    ours = [name for name, content in contents if name in FILE_NAMES and not has_other_headings(name, content)]
    sheets = [(name, content) for name, content in contents if _is_own_sheet(name) or _may_be_one(name, content, ours)]
    names = [name for name, _ in sheets]
    if sheets and ours:
        raise ValidationError(
            f"Halfpower's own files ({named(ours)}) and sheets of your own ({named(names)}) came together. "
            "Send your own sheets by themselves. To load Halfpower's own files, use only the names below."
        )
    if twice := sorted({name for name in names if names.count(name) > 1}):
        raise ValidationError(f"More than one file named {named(twice)}. Send each once.")
    return dict(sheets)


def _is_own_sheet(name):
    is_read = name.lower().endswith((*WORKBOOKS, *TEXTS)) and not name.startswith((".", "~$"))
    return is_read and name not in FILE_NAMES


def _may_be_one(name, content, ours):
    """Of files that mean something else beside ours: one under our name, and a text with tabs or semicolons."""
    is_list = name.lower().endswith(".txt") and re.search(b"[\\t;]", content[:_FIRST])
    return not ours and (name in FILE_NAMES or bool(is_list))


def has_other_headings(name, content):
    """Whether a file under one of our names has none of the columns that tell its rows from one another."""
    try:
        first = decoded(content[:_FIRST]).lstrip("\r\n").partition("\n")[0]
    except NotText:
        return False
    headings = {word.strip(' "') for word in re.split("[,;\t|]", first)}
    return bool(first.strip()) and headings.isdisjoint(_KEYS[name])
