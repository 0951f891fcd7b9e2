"""Sending a morning mail once for a depot and day, whatever stops in between."""

from django.db import IntegrityError, transaction
from django.utils import timezone

from ..models import Digest
from .post_services import NotTaken


class Outcome:
    """What became of a mail, as the command says it."""

    SENT = "sent"
    SENT_BEFORE = "was sent before"
    MAYBE_SENT = "was begun before and may have gone"


def send_once(depot, on, said, send):
    """`send()` unless the mail of this depot and day was begun before; returns the Outcome.

    The row that keeps others away is there before anything leaves. It goes again only where the mail surely did not
    leave: `send` raised NotTaken, which is raised on. After any other failure it may have left, and is not repeated.
    """
    try:
        with transaction.atomic():
            digest = Digest.objects.create(depot=depot, day=on, said=said)
    except IntegrityError:
        return begun_before(depot, on)
    try:
        send()
    except NotTaken:
        digest.delete()
        raise
    Digest.objects.filter(pk=digest.pk).update(sent_at=timezone.now())
    return Outcome.SENT


def begun_before(depot, on):
    """The Outcome of the mail of this depot and day where there is one; None where none was begun."""
    digest = Digest.objects.filter(depot=depot, day=on).first()
    if digest is None:
        return None
    return Outcome.SENT_BEFORE if digest.sent_at else Outcome.MAYBE_SENT
