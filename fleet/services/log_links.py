"""Links for phones: an address whose secret signs a phone in as an account that may log, and no more.

Nobody knows the secret but who was shown it: only its hash is kept.
"""

import re
import secrets
from datetime import timedelta

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from ..access import LOG
from ..choices import AccountAct, SignInOutcome
from ..models import LogLink, SignInTry
from ..models.accounts import hash_of
from ..selectors.log_links import accounts_for_links, find_working_link
from ..validators import check_last_day
from .account_trail import note_change
from .locks import hold, hold_pool
from .people import add_person
from .sign_in import note_try

SECRET_BYTES = 32
# after which the same wrong try from the same address is noted again
SAID_AGAIN = timedelta(minutes=10)
# what no account's name may have in it
NO_NAME = re.compile(r"[^\w.@+-]+")


def new_secret():
    return secrets.token_urlsafe(SECRET_BYTES)


@transaction.atomic
def make_link(name, account, last_day, *, secret, by, on):
    """A link that signs in as this account, or as a new one of its own name, until the end of that day."""
    hold_pool()
    check_last_day(last_day, on)
    account = account or _own_account(name, by)
    if not accounts_for_links().filter(pk=account.pk).exists():
        raise ValidationError({"account": f"{account} is not an account that may log and no more. Choose another."})
    link = LogLink(name=name, account=account, secret_hash=hash_of(secret), made_by=by, ends_on=last_day)
    link.full_clean()
    link.save()
    note_change(account, AccountAct.LINK_MADE, by=by, detail=name)
    return link


@transaction.atomic
def sign_in_by_link(secret, *, now, address, enter):
    """Sign somebody in by the link of this secret, if it works: `enter(link)` begins the session. Returns the link.

    The link is held meanwhile, so that it is withdrawn either before, or after with the session.
    """
    on = timezone.localdate(now)
    link = find_working_link(secret, on)
    if link is not None:
        hold(link)
        link = find_working_link(secret, on)
    if link is None:
        _note_wrong(secret, address, now)
        return None
    enter(link)
    LogLink.objects.filter(pk=link.pk).update(used_at=now)
    note_try(SignInOutcome.LINK, account=link.account, address=address, now=now)
    return link


def _note_wrong(secret, address, now):
    """Whose link it was, where it was one. Not each time: however often somebody presses, the table hardly grows."""
    link = LogLink.objects.of_secret(secret).select_related("account").first()
    account = link and link.account
    alike = SignInTry.objects.filter(outcome=SignInOutcome.WRONG_LINK, account=account, address=address)
    if not alike.filter(tried_at__gt=now - SAID_AGAIN).exists():
        note_try(SignInOutcome.WRONG_LINK, account=account, address=address, now=now)


def _own_account(name, by):
    """A new account called after the link, in the letters that an account may have; nobody knows its password."""
    called = NO_NAME.sub("-", name).strip("-.")
    if not called:
        raise ValidationError({"name": "A new account takes this name: write at least a letter or a digit."})
    if User.objects.filter(username__iexact=called).exists():
        there = f"There is an account {called} already. Choose it if it is offered, else give the link another name."
        raise ValidationError({"account": there})
    try:
        return add_person(called, LOG, None, by=by)
    except ValidationError as error:
        why = f"A new account cannot be called “{called}”. {' '.join(error.messages)}"
        raise ValidationError({"name": why}) from error
