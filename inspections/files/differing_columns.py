"""Columns of files of which some rows are stored otherwise, as pages show them, and what was chosen for each."""

import hashlib
from dataclasses import dataclass
from datetime import date

from fleet.figures import short_day
from fleet.intake import Answer, Differing

from .sets import FILE_NAMES, LAYOUTS
from .uploads import read_beside, write_beside

MOST_NAMED = 4
ANSWERS = "answers.json"
CHOICES = (
    (Answer.FILL.value, "fill only what is empty"),
    (Answer.REPLACE.value, "replace"),
    (Answer.KEEP.value, "keep what is stored"),
)
REFUSED = ((Answer.REFUSE.value, "nothing yet: store no file"), *CHOICES)
_LAYOUTS = {layout.file: layout for layout in LAYOUTS}
_COLUMNS = {(layout.file, name) for layout in LAYOUTS for name in layout.names}
_NAMED = "differ:"


@dataclass(frozen=True)
class Example:
    """One row that differs: of what, in words, and what both say, as text."""

    whose: str
    stored: str
    given: str


@dataclass(frozen=True)
class DifferingColumn:
    """A column that differs, or what follows it, in so many rows (`count`), of which `changes` are corrected."""

    file: str
    column: str
    words: str
    count: int
    changes: int
    examples: tuple[Example, ...]
    answer: str
    stays: bool

    @property
    def name(self):
        """Of the field by which somebody chooses."""
        return f"{_NAMED}{self.file}:{self.column}"

    @property
    def kept(self):
        """Rows in which the file says something else, and what is stored stays."""
        return self.count - self.changes

    @property
    def is_filled(self):
        return self.answer == Answer.FILL

    @property
    def more(self):
        return self.count - len(self.examples)


def differing_columns(files):
    """The DifferingColumns of a checked set, in the order of the files and their columns; there is none to choose for
    rows that take the place of others."""
    found = {}
    for difference in (each for each in files.differences if not each.instead):
        column = _LAYOUTS[difference.file].column(difference.column)
        rows = found.setdefault((difference.file, column.follows or column.name), {})
        rows.setdefault(difference.row, []).append(difference)
    return [_column(files, *key, list(rows.values())) for key, rows in sorted(found.items(), key=_place)]


def mark_of_differences(files):
    """Stands for what becomes of each difference, so that what changed since it was shown is known."""
    return hashlib.sha256(repr(files.differences).encode()).hexdigest()[:16]


def answers_in(data):
    """{(file, column): Answer} of what a form sent; what no page offers is left out."""
    answers = {}
    for name in data:
        column = tuple(name.removeprefix(_NAMED).rsplit(":", 1))
        if name.startswith(_NAMED) and column in _COLUMNS and data[name] in Answer.values:
            answers[column] = Answer(data[name])
    return answers


def waiting_differing(file_hash):
    """The Differing that was chosen for files that wait under this hash; what was not chosen is refused."""
    kept = read_beside(file_hash, ANSWERS) or []
    return Differing(Answer.REFUSE, {(file, column): Answer(answer) for file, column, answer in kept})


def keep_answers(file_hash, data):
    """Keep what a form chose, for as long as the files wait; whether that is anything new."""
    before, answers = waiting_differing(file_hash).of, answers_in(data)
    now = {column: answer for column, answer in (before | answers).items() if answer != Answer.REFUSE}
    if now != before:
        write_beside(file_hash, ANSWERS, [[*column, str(answer)] for column, answer in now.items()])
    return now != before


def _column(files, file, name, rows):
    layout = _LAYOUTS[file]
    column = layout.column(name)
    field = column.related or column.field
    return DifferingColumn(
        file,
        name,
        f"{layout.model._meta.verbose_name_plural.capitalize()}: {field.verbose_name}",
        len(rows),
        sum(any(each.changes for each in row) for row in rows),
        tuple(_example(layout, row) for row in rows[:MOST_NAMED]),
        files.differing.answer(file, column),
        column.stays or layout.stays,
    )


def _example(layout, differences):
    columns = [layout.column(each.column) for each in differences]
    stored = [_shown(column, each.stored) for column, each in zip(columns, differences, strict=True)]
    given = [_shown(column, each.given) for column, each in zip(columns, differences, strict=True)]
    whose = ", ".join(map(_plain, differences[0].key))
    return Example(whose, ", ".join(filter(None, stored)) or "nothing", ", ".join(filter(None, given)) or "nothing")


def _shown(column, value):
    return _plain(value) if isinstance(value, date) else column.write(value)


def _plain(part):
    return short_day(part) if isinstance(part, date) else "none" if part is None else str(part)


def _place(found):
    (file, column), _ = found
    return FILE_NAMES.index(file), _LAYOUTS[file].names.index(column)
