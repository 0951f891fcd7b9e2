"""The one way to sign in with a password, and to say the old one: counted first, hashed once, written down.

An unknown name, a wrong password and a deactivated account cost the same and are told in the same words; that an
account is deactivated hears only who knows its password.
"""

import logging
from datetime import timedelta

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.views.decorators.debug import sensitive_variables

from ..choices import SignInOutcome
from ..models import SignInTry
from ..models.accounts import ADDRESS_LENGTH
from ..password_validators import check_not_endless
from .hashing_places import ANYBODY, KNOWN_BROWSERS
from .known_browsers import UNKNOWN
from .sign_in_counts import (
    CLEARED_AT_ONCE,
    TooManyTries,
    clear_old_counts,
    count_try,
    counts_of_old_password,
    counts_of_sign_in,
    forget_failures,
    refuse_while_waiting,
)

TRIES_KEPT, MOST_TRIES_KEPT = timedelta(days=90), 100_000
WRONG = "Name or password is wrong. Capitals matter in both."
DEACTIVATED = "This account is deactivated. Ask the keeper of the pool."
WRONG_OLD_PASSWORD = "Your old password was entered incorrectly. Type it again."

log = logging.getLogger("halfpower.sign_in")


@sensitive_variables("password")
def sign_in(name, password, *, address, now, browser=UNKNOWN):
    """The account that may sign in with this name and password; ValidationError, or TooManyTries, says why not."""
    person = User.objects.filter(username=name).first()
    mark = browser.mark_for(person)
    line, counts = KNOWN_BROWSERS if mark else ANYBODY, counts_of_sign_in(name, address, mark)
    if not _is_right(person, name, password, line, counts, address=address, now=now):
        note_try(SignInOutcome.WRONG, account=person, address=address, now=now)
        raise ValidationError(WRONG, code="invalid_login")
    if not person.is_active:
        note_try(SignInOutcome.DEACTIVATED, account=person, address=address, now=now)
        raise ValidationError(DEACTIVATED, code="inactive")
    with transaction.atomic():
        forget_failures(counts, now)
        note_try(SignInOutcome.SIGNED_IN, account=person, address=address, now=now)
    return person


@sensitive_variables("password")
def check_old_password(person, password, *, address, now):
    """ValidationError, or TooManyTries, unless this is the password of the account that somebody is signed in with."""
    counts = counts_of_old_password(person)
    if not _is_right(person, person.username, password, KNOWN_BROWSERS, counts, address=address, now=now):
        note_try(SignInOutcome.OLD_PASSWORD, account=person, address=address, now=now)
        raise ValidationError(WRONG_OLD_PASSWORD, code="password_incorrect")
    forget_failures(counts, now)


@transaction.atomic
def note_try(outcome, *, account, address, now):
    """Write down who tried to sign in, from where and how it ended, in the table and on stderr.

    Of the refused only the first of each wait comes here: however fast they come, neither grows by it.
    """
    noted = SignInTry.objects.create(outcome=outcome, account=account, address=address[:ADDRESS_LENGTH], tried_at=now)
    log.info("%s from %s: %s", account or "a name without account", noted.address, outcome)
    _clear_old_tries(noted)
    clear_old_counts(now)


def _is_right(person, name, password, line, counts, *, address, now):
    check_not_endless(password)
    try:
        refuse_while_waiting(counts, now)
        with line.joined(name):
            count_try(counts, now)
            with line.place_to_hash():
                return _fits(person, password)
    except TooManyTries as refusal:
        if refusal.is_news:
            note_try(SignInOutcome.TOLD_TO_WAIT, account=person, address=address, now=now)
        raise


def _fits(person, password):
    if person is None:
        # takes as long as to look at the password of an account
        User().set_password(password)
        return False
    return person.check_password(password)


def _clear_old_tries(newest):
    """Some of those that are too old, or too many: always more than are added."""
    for old in ({"tried_at__lt": newest.tried_at - TRIES_KEPT}, {"pk__lte": newest.pk - MOST_TRIES_KEPT}):
        found = SignInTry.objects.filter(**old).order_by().values_list("pk", flat=True)[:CLEARED_AT_ONCE]
        SignInTry.objects.filter(pk__in=list(found)).delete()
