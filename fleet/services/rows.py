"""What everything in the register goes through: added, corrected, withdrawn, back in use."""

from contextlib import contextmanager

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from ..figures import short_day
from ..models import RenamedCode
from ..validators import check_not_after
from .locks import hold


def add_row(model, *, by, **values):
    """A new row of the register; a code that is taken is refused with a sentence, also when it was taken just now."""
    row = model(recorded_by=by, **values)
    row.full_clean()
    with taken_code_refused(row):
        row.save()
    return row


def correct_row(row, *, by, reason="", seen_version=None, **values):
    """Changed values, with the old ones in the trail. Call inside a transaction."""
    hold(row)
    with taken_code_refused(row):
        return row.correct(by=by, reason=reason, seen_version=seen_version, **values)


def withdraw_row(row, *, by, on, reason, withdrawn_on=None, seen_version=None):
    """Out of use from that day on (none: `on`). Call inside a transaction."""
    hold(row)
    day = withdrawn_on or on
    check_day("withdrawn_on", day, on, "day of withdrawing")
    if not reason.strip():
        raise ValidationError({"reason": "Say why it is withdrawn."})
    if row.withdrawn_on is not None:
        raise ValidationError(f"{row.at_start} was withdrawn on {short_day(row.withdrawn_on)} already.")
    reason = reason.strip()
    return row.correct(by=by, reason=reason, seen_version=seen_version, withdrawn_on=day, withdrawal_reason=reason)


def return_row(row, *, by, reason="", seen_version=None):
    """In use again. Call inside a transaction."""
    hold(row)
    return row.correct(by=by, reason=reason, seen_version=seen_version, withdrawn_on=None, withdrawal_reason="")


def check_day(field, day, on, what):
    """`check_not_after` with the refusal at a field of a form."""
    try:
        check_not_after(day, on, what)
    except ValidationError as late:
        raise ValidationError({field: late}) from late


@contextmanager
def taken_code_refused(row):
    """Of people who write one code at once, the unique key lets one through; the others are told which row has it."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError:
        row.refuse_taken_code()
        raise


def acknowledge_renamed_codes():
    """Somebody has seen the renamed codes; the trail of each row still names the old one."""
    RenamedCode.objects.all().delete()
