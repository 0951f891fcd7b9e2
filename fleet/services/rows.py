"""What everything in the register goes through: added, corrected, withdrawn, back in use. Nothing is deleted."""

from contextlib import contextmanager

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from ..models.fields import CodeField
from ..validators import check_not_after


def add_row(model, *, by, **values):
    """A new row of the register; a code that is taken is refused with a sentence, also when it was taken just now."""
    row = model(recorded_by=by, **values)
    code = _code_field(model)
    _check_free(model, code, getattr(row, code.name))
    row.full_clean(validate_unique=False)
    with code_taken_meanwhile(code), transaction.atomic():
        row.save()
    return row


def correct_row(row, *, by, because="", seen_version=None, **values):
    """Changed values, with the old ones in the trail. Call inside a transaction."""
    code = _code_field(type(row))
    if values.get(code.name, getattr(row, code.name)) != getattr(row, code.name):
        _check_free(type(row), code, values[code.name], row.pk)
    with code_taken_meanwhile(code):
        return row.correct(by=by, because=because, seen_version=seen_version, **values)


def withdraw_row(row, *, by, on, because, withdrawn_on=None, seen_version=None):
    """Out of use from that day on (none: `on`). Call inside a transaction."""
    day = withdrawn_on or on
    check_day("withdrawn_on", day, on, "day of withdrawing")
    if not because.strip():
        raise ValidationError({"because": "Say why it is withdrawn."})
    if row.withdrawn_on is not None:
        raise ValidationError(f"{row} was withdrawn on {row.withdrawn_on:%Y-%m-%d} already.")
    because = because.strip()
    return row.correct(by=by, because=because, seen_version=seen_version, withdrawn_on=day, withdrawn_because=because)


def return_row(row, *, by, because="", seen_version=None):
    """In use again. Call inside a transaction."""
    return row.correct(by=by, because=because, seen_version=seen_version, withdrawn_on=None, withdrawn_because="")


def check_day(field, day, on, what):
    """`check_not_after` with the refusal at a field of a form."""
    try:
        check_not_after(day, on, what)
    except ValidationError as late:
        raise ValidationError({field: late}) from late


@contextmanager
def code_taken_meanwhile(code):
    """Two people who write the same code at once: the unique column lets one of them through."""
    try:
        yield
    except IntegrityError as race:
        raise ValidationError({code.name: "Somebody else has just taken this one. Choose another."}) from race


def _code_field(model):
    return next(field for field in model._meta.fields if isinstance(field, CodeField))


def _check_free(model, code, value, own_pk=None):
    """Capitals make no other code: people say M-001 and type m-001."""
    taken = model._base_manager.filter(**{f"{code.name}__iexact": value}).exclude(pk=own_pk).first()
    if taken:
        gone = f", withdrawn on {taken.withdrawn_on:%Y-%m-%d}" if taken.withdrawn_on else ""
        raise ValidationError({code.name: f"There is {taken} already{gone}. Write another one."})
