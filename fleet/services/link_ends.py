"""How links for phones end before their day: whoever is signed in by them is signed out in the same transaction."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from ..access import name_of
from ..choices import AccountAct
from ..models import LogLink, Session
from .account_trail import note_change
from .locks import hold, hold_all


@transaction.atomic
def withdraw_link(link, *, by):
    """Let it sign nobody in any more, and sign out whoever is signed in by it."""
    hold(link)
    if link.withdrawn_at:
        who = name_of(link.withdrawn_by) or "a restore"
        raise ValidationError(f"{link} was withdrawn already: on {timezone.localdate(link.withdrawn_at)}, by {who}.")
    _withdraw([link], by)
    return link


def withdraw_links_of(account, *, by):
    """Withdraw every link of an account; call in the transaction that gives it another role, with the pool held."""
    _withdraw(_hold_open(account=account), by)


@transaction.atomic
def withdraw_all_links():
    """By nobody, after a restore: one that was withdrawn since the back-up must not work again."""
    _withdraw(_hold_open(), None)


def _hold_open(**of):
    return hold_all(LogLink.objects.filter(withdrawn_at=None, **of).select_related("account"))


def _withdraw(links, by):
    pks = [link.pk for link in links]
    Session.objects.filter(link__in=pks).delete()
    LogLink.objects.filter(pk__in=pks).update(withdrawn_at=timezone.now(), withdrawn_by=by)
    for link in links:
        note_change(link.account, AccountAct.LINK_WITHDRAWN, by=by, detail=link.name)
