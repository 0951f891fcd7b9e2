"""What the database refuses because of what somebody else stored at the same moment."""

from contextlib import contextmanager

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction


@contextmanager
def race_refused(refusal):
    """Run the block in a transaction; where the database refuses it as not unique: ValidationError with `refusal`."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        raise ValidationError(refusal) from error
