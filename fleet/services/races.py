"""Two people at once: the database lets one of them through; the other waits for a turn or gets a sentence."""

from contextlib import contextmanager

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

# People who act at once take turns; more turns than this means that something else is wrong.
MAX_ATTEMPTS = 20


def retried(act, *, refusal, most=MAX_ATTEMPTS):
    """What `act()` returns; done again, in a transaction of its own, while the database refuses it as not unique.

    Raises ValidationError with `refusal` after `most` attempts.
    """
    for _ in range(most):
        try:
            with transaction.atomic():
                return act()
        except IntegrityError:
            continue
    raise ValidationError(refusal)


@contextmanager
def race_refused(refusal):
    """Run the block in a transaction; where the database refuses it as not unique: ValidationError with `refusal`."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        raise ValidationError(refusal) from error
