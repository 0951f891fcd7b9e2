"""What a file looks like: its columns, where the model keeps each, and what each may hold."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from django.core.exceptions import ValidationError
from django.db import models

from ..models.fields import CodeField
from ..validators import check_not_after
from . import kinds

# PostgreSQL's whole numbers end here; SQLite's do not, and a pool may move from one to the other.
HIGHEST = {models.PositiveSmallIntegerField: 32_767, models.PositiveIntegerField: 2_147_483_647}
KINDS = (
    (CodeField, kinds.CODE),
    (models.CharField, kinds.TEXT),
    (models.TextField, kinds.LINES),
    (models.FloatField, kinds.NUMBER),
    (models.DecimalField, kinds.AMOUNT),
    (models.PositiveSmallIntegerField, kinds.WHOLE),
    (models.PositiveIntegerField, kinds.WHOLE),
    (models.DateField, kinds.DAY),
    (models.JSONField, kinds.NUMBERS),
    (models.BooleanField, kinds.YES_NO),
)


@dataclass(frozen=True)
class Column:
    """One column of a file.

    `path` leads from the model to the value (`cable_type__name`). `needed` columns may be neither left out nor empty.
    `past` names a day that cannot lie after today. `refers_to` is the file whose key this is. `about` is the column
    whose word says of what kind the row is that this code names, and which field of the model points to it; `path` is
    then one that the layout's rows are annotated with. `derived`: an empty cell says nothing, and a rule finds the
    value from the rest of the row. `word_path` leads to the word that the model keeps beside an empty value, where the
    kind of the column has words. `stays`: what is stored is not corrected by files, its page has rules of its own.
    `follows` names the column that this one tells more of: of a row in which that one differs, both become the same.
    """

    name: str
    path: str
    key: bool = False
    needed: bool = False
    refers_to: str = ""
    past: str = ""
    lowest: int = 0
    own_kind: kinds.Kind | None = None
    about: str = ""
    derived: bool = False
    word_path: str = ""
    stays: bool = False
    follows: str = ""


class BoundColumn:
    """A column with the model's field behind it, whose default, choices, validators and limit hold for files too.

    `of_head`: it tells of the head that the row belongs to; `own_path` leads from there.
    """

    def __init__(self, column, model, head=""):
        self.name, self.path, self.key, self.needed = column.name, column.path, column.key, column.needed
        self.refers_to, self.past, self.lowest = column.refers_to, column.past, column.lowest
        self.about, self.derived, self.word_path = column.about, column.derived, column.word_path
        self.stays, self.follows = column.stays, column.follows
        self.of_head = bool(head) and column.path.startswith(f"{head}__")
        owner = model._meta.get_field(head).related_model if self.of_head else model
        self.own_path = column.path.removeprefix(f"{head}__") if self.of_head else column.path
        first = CodeField(name=column.path) if self.about else owner._meta.get_field(self.own_path.split("__")[0])
        self.related = first if first.is_relation else None
        self.field = first.related_model._meta.get_field(self.own_path.split("__")[1]) if self.related else first
        choices = [value for value, _ in self.field.flatchoices or ()]
        self.kind = column.own_kind or self._kind(choices)
        self.words = choices or list(self.kind.words)
        self.default = None if self.related or self.derived else first.get_default()
        self.limit = None if self.related else owner.limits.get(first.name)

    def _kind(self, choices):
        return kinds.WORD if choices else next(kind for field, kind in KINDS if isinstance(self.field, field))

    def read(self, text, decimal_comma, on):
        """The value of a cell, checked by what the model's field demands; ValidationError says what is expected."""
        if not text.strip():
            if self.needed:
                raise ValidationError(f"a value: {self.name} may not be empty")
            if not text or self.kind is not kinds.TEXT:
                return self.default
        value = self.kind.read(text, decimal_comma)
        if value is not None:
            self._check(value, on)
        return value

    def _check(self, value, on):
        if self.kind is kinds.WORD and value not in self.words:
            raise ValidationError(f"one of: {', '.join(self.words)}")
        if self.kind is kinds.WHOLE and not self.lowest <= value <= HIGHEST[type(self.field)]:
            raise ValidationError(f"a whole number from {self.lowest} to {HIGHEST[type(self.field)]}")
        if not self.is_word(value):
            for validator in self.field.validators:
                validator(value)
            if self.limit:
                self.limit.check(value)
        if self.past:
            check_not_after(value, on, self.past)

    def is_word(self, value):
        """Whether it is a word in place of the value of the field."""
        return bool(self.word_path) and isinstance(value, str)

    def write(self, value):
        return self.kind.of_none if value is None else self.kind.write(value)


def _nothing_more(values):
    return {}


def _every_row(rows):
    return rows


@dataclass(frozen=True)
class Layout:
    """One file and the model whose rows it holds.

    `more(values)` gives field values that follow from the columns'; `of_file(rows)` those rows that the file is about.
    `head` is the field to the head of several rows, of which each row tells the same; the head has no file of its own.
    It is stored with all its rows, unless it `grows`: then one that is stored takes more, and rows know who wrote them.
    `stays`: files only add rows.
    """

    file: str
    model: type[models.Model]
    given: tuple[Column, ...]
    more: Callable[[dict], dict] = _nothing_more
    of_file: Callable[[models.QuerySet], models.QuerySet] = _every_row
    head: str = ""
    grows: bool = False
    stays: bool = False

    @property
    def makes_more(self):
        return self.more is not _nothing_more

    def stored_rows(self):
        """The rows of the pool that the file is about, in no order."""
        return self.of_file(self.model.objects.order_by())

    def values_of(self, rows, columns, *, at_a_time):
        """The values of these columns in each of the rows, a tuple each."""
        worded = [(place, column) for place, column in enumerate(columns) if column.word_path]
        paths = [column.path for column in columns] + [column.word_path for _, column in worded]
        found = rows.values_list(*paths).iterator(chunk_size=at_a_time)
        return _with_words(found, [place for place, _ in worded]) if worded else found

    @cached_property
    def columns(self):
        return [BoundColumn(column, self.model, self.head) for column in self.given]

    @cached_property
    def names(self):
        return [column.name for column in self.columns]

    @cached_property
    def key(self):
        return [column for column in self.columns if column.key]

    @cached_property
    def head_code(self):
        """The column of the code by which rows name their head; None where rows have none."""
        return next((column for column in self.key if column.of_head), None)

    @property
    def code_column(self):
        """The column of the code by which other files name what this one holds."""
        return self.head_code or self.key[0]

    def column(self, name):
        return next(column for column in self.columns if column.name == name)

    def column_of_field(self, field_name):
        """The column that fills the model's field; the first that is no key where none does."""
        found = [c for c in self.columns if c.path.split("__")[0] == field_name]
        return (found or [c for c in self.columns if not c.key] or self.columns)[0]


def _with_words(rows, places):
    """Rows with the words, which stand behind the values, in the places of the empty values they belong to."""
    for row in rows:
        values, words = list(row[: -len(places)]), row[-len(places) :]
        for place, word in zip(places, words, strict=True):
            values[place] = word or values[place]
        yield tuple(values)
