"""Who tried to sign in, as a keeper looks at it."""

from datetime import timedelta

from django.db.models import Count, Max, Q

from ..choices import SignInOutcome
from ..models import SignInTry

LATELY = timedelta(days=7)
LAST_TRIES = 10


def last_tries(person):
    """The newest tries of one account, and who said its old password wrong."""
    return SignInTry.objects.filter(account=person)[:LAST_TRIES]


def waits_lately(now):
    """Of the last week: `times` somebody was told to wait, the `last` time, `accounts` of it, `nameless` times."""
    waits = SignInTry.objects.filter(outcome=SignInOutcome.TOLD_TO_WAIT, tried_at__gt=now - LATELY).order_by()
    counted = waits.aggregate(times=Count("pk"), last=Max("tried_at"), nameless=Count("pk", Q(account=None)))
    names = waits.filter(account__isnull=False).values_list("account__username", flat=True)
    return counted | {"accounts": list(names.distinct().order_by("account__username"))}
