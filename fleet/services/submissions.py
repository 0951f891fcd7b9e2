"""The same form sent twice is acted on once: the token in the form is unique in the database."""

import uuid

from django.db import IntegrityError, transaction

from ..models import Submission


def act_once(token, *, by, act):
    """Run `act()` in one transaction with the token and return the address it answers with.

    `act` returns the address to go to. A token already used returns the first answer without acting again;
    a refusal (ValidationError) leaves the token unused, so that the corrected form can be sent.
    """
    try:
        with transaction.atomic():
            submission = Submission.objects.create(token=token, made_by=by)
            submission.answer_url = act()
            submission.save(update_fields=["answer_url"])
            return submission.answer_url
    except IntegrityError:
        first = Submission.objects.filter(token=token).first()
        if first is None:
            raise
        return first.answer_url


def answer_elsewhere(row, instead):
    """Forms that led to the page of a row lead to the other address from now on: the row is deleted."""
    Submission.objects.filter(answer_url__startswith=row.get_absolute_url()).update(answer_url=instead)


def answer_given(token):
    """The address that a form with this token was answered with; None when it was not acted on, or is no token.

    For forms whose checks depend on what they change: sent twice, they would be refused for what the first one did.
    """
    try:
        return Submission.objects.filter(token=uuid.UUID(token)).values_list("answer_url", flat=True).first()
    except (ValueError, TypeError, AttributeError):
        return None
