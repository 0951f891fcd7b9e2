"""Text columns: what people type, and codes that sort alike on every database, with the keys that make them unique."""

import unicodedata

from django.db import models
from django.db.models.functions import Collate
from django.db.models.lookups import IContains, IExact, IStartsWith

from ..validators import CODE_LENGTH, check_code, check_line, check_lines

# one character is at most three without capitals: ŉ is two, ﬃ is three
KEY_LENGTH = 3 * CODE_LENGTH


def code_key(code):
    """The code without what makes no other code: capitals, and whether Ü is one character or a U with a mark.

    Unicode's canonical caseless match (chapter 3.13, D145), composed at the end.
    """
    return unicodedata.normalize("NFC", unicodedata.normalize("NFD", code).casefold())


class _AsBefore:
    """Only what may be typed is another: to migrations the column is the plain one that it was."""

    def deconstruct(self):
        name, _, args, kwargs = super().deconstruct()
        return name, f"django.db.models.{self.plain}", args, kwargs


class LineField(_AsBefore, models.CharField):
    """One line that somebody types."""

    plain = "CharField"
    default_validators = [*models.CharField.default_validators, check_line]


class LinesField(_AsBefore, models.TextField):
    """Text of any number of lines that somebody types."""

    plain = "TextField"
    default_validators = [*models.TextField.default_validators, check_lines]


class _ByCharacter(models.CharField):
    """Sorted by character number on SQLite and PostgreSQL alike."""

    def db_parameters(self, connection):
        collation = "C" if connection.vendor == "postgresql" else None
        return super().db_parameters(connection) | {"collation": collation}


class CodeField(_ByCharacter):
    """A code by which people name a row. A unique one has a CodeKeyField beside it (see `codes.Coded`)."""

    default_validators = [*models.CharField.default_validators, check_code]

    def __init__(self, *args, **kwargs):
        kwargs.setdefault("max_length", CODE_LENGTH)
        super().__init__(*args, **kwargs)


class CodeKeyField(_ByCharacter):
    """The key of the code that stands in the field named, unique in the database.

    A column, for no index does it: SQLite folds A to Z only, and one over a function of our own would be unreadable
    to other programs.
    """

    def __init__(self, code, **kwargs):
        self.code = code
        super().__init__(**{"max_length": KEY_LENGTH, "unique": True, "editable": False, "blank": True} | kwargs)

    def deconstruct(self):
        name, path, _, kwargs = super().deconstruct()
        return name, path, [self.code], kwargs

    def pre_save(self, instance, add):
        key = code_key(getattr(instance, self.code))
        setattr(instance, self.attname, key)
        return key


class _AnyCase:
    """Compared in any case, PostgreSQL has to know more capitals than A to Z: Ü and ü are one letter."""

    def process_lhs(self, compiler, connection, lhs=None):
        if connection.vendor == "postgresql":
            lhs = Collate(lhs or self.lhs, "default")
        return super().process_lhs(compiler, connection, lhs)


for _lookup in (IExact, IContains, IStartsWith):
    CodeField.register_lookup(type(f"AnyCase{_lookup.__name__}", (_AnyCase, _lookup), {}))
