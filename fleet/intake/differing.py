"""Rows that the pool has already, of which the files say something else: which cells, and what becomes of each."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.db.models import TextChoices

from .tables import spoken

# up to this many first keys are asked for by name; beyond, the whole table is read
ASKED_BY_NAME = 5_000


class Answer(TextChoices):
    """What becomes of a cell that differs from what is stored."""

    REFUSE = "refuse"
    KEEP = "keep"
    REPLACE = "replace"
    FILL = "fill"


@dataclass(frozen=True)
class Differing:
    """The Answer for each (file, column); of a column that `of` does not name, `otherwise`.

    FILL takes what the pool has no value for. Where it has another one it keeps it, or refuses it where `strict`.
    But for REFUSE, an empty cell of a file says nothing. A column that follows another one is answered with it.
    """

    otherwise: str = Answer.REFUSE
    of: Mapping[tuple[str, str], str] = field(default_factory=dict)
    strict: bool = False

    def answer(self, file, column):
        """Of a column, by its `follows` or its name."""
        return self.of.get((file, column.follows or column.name), self.otherwise)

    def becomes(self, table, column, stored, others):
        """The Answer for one cell that differs: FILL only of one that is filled.

        `others`: {column: what its cell of this row becomes}.
        """
        answer = self.answer(table.file, column)
        if column.follows in others and answer != Answer.REFUSE:
            return others[column.follows]
        if answer not in (Answer.REPLACE, Answer.FILL):
            return answer
        if column.stays or table.layout.stays:
            return Answer.REFUSE if self.strict else Answer.KEEP
        if answer == Answer.FILL and not is_empty(stored):
            return Answer.REFUSE if self.strict else Answer.KEEP
        return answer


REFUSE_ALL = Differing()
# what the command takes
FILL_EMPTY = Differing(Answer.FILL, strict=True)


@dataclass(frozen=True, slots=True)
class Difference:
    """One cell: `row` is that of the table, `stored` and `given` are values, `becomes` an Answer.

    `instead`: its row takes the place of one that is stored under another key, which is `key`.
    """

    file: str
    row: int
    line: int
    column: str
    key: tuple
    stored: object
    given: object
    becomes: str
    instead: bool = False

    @property
    def changes(self):
        """Whether the stored value is corrected by it."""
        return self.becomes in (Answer.REPLACE, Answer.FILL)


def is_empty(value):
    return value is None or value == "" or value == []


def compare_with_stored(files, table, blank):
    """Marks rows that the database has already; of what differs, each cell as the set's `differing` says.

    What is kept, and what the file has no column for, is in the table then as it is stored: rules see such a row as
    it will be. `blank(column, row)`: whether that cell of the file is empty. A row that takes the place of a stored one
    leaves nothing of what that says.
    """
    stored = _stored_rows(table)
    if not stored:
        return
    others = [column for column in table.layout.columns if not column.key]
    given = {column.name for column in table.given}
    for row, key in table.keyed_rows():
        values = stored.get(key)
        if values is None:
            continue
        table.existing[row] = True
        if key in table.instead:
            _takes_place(files, table, row, key, dict(zip(others, values, strict=True)))
            continue
        becomes = {}
        for column, current in zip(others, values, strict=True):
            value = table.values[column.name][row]
            if column.name not in given:
                table.values[column.name][row] = current
            elif value != current and table.sound[column.name][row]:
                if _says_nothing(files, table, column, row, blank):
                    table.values[column.name][row] = current
                else:
                    _differs(files, table, column, row, key, current, becomes)


def _takes_place(files, table, row, key, stored):
    """Every cell that differs is corrected, its own key too; a key that another row has follows from that row."""
    was = table.instead[key]
    own = {column: part for column, part in zip(table.layout.key, was, strict=True) if not column.related}
    for column, current in (own | stored).items():
        value, line = table.values[column.name][row], int(table.lines[row])
        if value != current and table.sound[column.name][row]:
            cell = table.file, row, line, column.name, was, current, value
            files.differences.append(Difference(*cell, Answer.REPLACE, instead=True))


def _says_nothing(files, table, column, row, blank):
    if column.derived and table.values[column.name][row] is None:
        return True
    return files.differing.answer(table.file, column) != Answer.REFUSE and blank(column.name, row)


def _differs(files, table, column, row, key, current, becomes):
    value, line = table.values[column.name][row], int(table.lines[row])
    answer = becomes[column.name] = files.differing.becomes(table, column, current, becomes)
    files.differences.append(Difference(table.file, row, line, column.name, key, current, value, answer))
    if answer == Answer.REFUSE:
        expected = f"“{column.write(current)}”, as stored; correct it on its page"
        table.refuse(files.errors, row, column.name, f"“{column.write(value)}” for {spoken(key)}", expected)
    elif answer == Answer.KEEP:
        table.values[column.name][row] = current


def _stored_rows(table):
    first = table.layout.key[0]
    wanted = set(table.values[first.name][table.sound[first.name]]) | {was[0] for was in table.instead.values()}
    rows = table.layout.stored_rows()
    if not wanted:
        return {}
    # of an empty first key the database knows nothing by name
    if len(wanted) <= ASKED_BY_NAME and None not in wanted:
        rows = rows.filter(**{f"{first.path}__in": wanted})
    columns = [*table.layout.key, *(column for column in table.layout.columns if not column.key)]
    keys = len(table.layout.key)
    stored = {row[:keys]: row[keys:] for row in table.layout.values_of(rows, columns, at_a_time=10_000)}
    return stored | {key: stored[was] for key, was in table.instead.items() if was in stored}
