"""A text column that sorts alike on every database."""

from django.db import models
from django.db.models.functions import Collate
from django.db.models.lookups import IContains, IExact, IStartsWith

from ..validators import CODE_LENGTH, check_code


class CodeField(models.CharField):
    """A code by which people name a row. Sorted by character number on SQLite and PostgreSQL alike."""

    default_validators = [*models.CharField.default_validators, check_code]

    def __init__(self, *args, **kwargs):
        kwargs.setdefault("max_length", CODE_LENGTH)
        super().__init__(*args, **kwargs)

    def db_parameters(self, connection):
        collation = "C" if connection.vendor == "postgresql" else None
        return super().db_parameters(connection) | {"collation": collation}


class _AnyCase:
    """Compared in any case, PostgreSQL has to know more capitals than A to Z: Ü and ü are one letter."""

    def process_lhs(self, compiler, connection, lhs=None):
        if connection.vendor == "postgresql":
            lhs = Collate(lhs or self.lhs, "default")
        return super().process_lhs(compiler, connection, lhs)


for _lookup in (IExact, IContains, IStartsWith):
    CodeField.register_lookup(type(f"AnyCase{_lookup.__name__}", (_AnyCase, _lookup), {}))
