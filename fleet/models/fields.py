"""A text column that sorts alike on every database."""

from django.db import models

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
