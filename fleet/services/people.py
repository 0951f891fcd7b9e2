"""Accounts: who may sign in, and in which role. None is ever deleted, because records name them.

Each act stands in the trail of its account with whoever did it: `by`, nobody for a command of the pool's computer.
"""

from django.contrib.auth.models import Group, User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from ..access import KEEP, LOG, ROLES
from ..choices import AccountAct
from ..models import Session
from ..models.fields import code_key
from ..selectors.people import account_mark, no_keeper_can_sign_in, people
from ..validators import check_code
from .account_trail import note_change
from .calendar_feeds import end_feed
from .link_ends import withdraw_links_of
from .locks import hold_pool


@transaction.atomic
def add_person(name, role, password, *, by):
    """A new account; refuses a name that differs from another only in capitals. Without password only links sign in."""
    hold_pool()
    person = _new_person(name, role, password)
    note_change(person, AccountAct.MADE, by=by, detail=role)
    return person


@transaction.atomic
def add_first_keeper(name, password):
    """The keeper of a pool in which no keeper can sign in, made by itself; of several who ask at once one is made."""
    hold_pool()
    if not no_keeper_can_sign_in():
        raise ValidationError("There is an account already: sign in, or ask its keeper for one of your own.")
    keeper = _new_person(name, KEEP, password)
    note_change(keeper, AccountAct.MADE, by=keeper, detail=KEEP)
    return keeper


@transaction.atomic
def change_role(person, role, *, by, seen_version=None):
    """Give a person another role; the pool always keeps a keeper. `seen_version`: the `account_mark` of the page.

    Sessions go on: every page looks at the role of that moment. Links for phones are withdrawn unless they still fit.
    """
    group = _group(role)
    hold_pool()
    _check_seen(person, seen_version)
    was = people().get(pk=person.pk).role
    person.groups.set([group])
    if role != LOG:
        withdraw_links_of(person, by=by)
    if role != KEEP:
        User.objects.filter(pk=person.pk).update(is_superuser=False)
    _refuse_without_keeper()
    if role != was:
        note_change(person, AccountAct.ROLE, by=by, detail=f"{was} → {role}")
    return person


@transaction.atomic
def set_password(person, password, *, by, seen_version=None):
    """A new password for somebody who forgot theirs; it ends their sessions, and their address of the calendar."""
    if person == by:
        raise ValidationError("This is your own account: change its password here, where you type the current one too.")
    _check_password(password, person)
    hold_pool()
    _check_seen(person, seen_version)
    _give_password(person, password)
    end_feed(person, by=by)
    note_change(person, AccountAct.PASSWORD_SET, by=by)
    return person


@transaction.atomic
def change_own_password(person, password):
    """Somebody's own new password; it ends their sessions, and the browser that they ask from begins a new one."""
    hold_pool()
    _give_password(person, password)
    note_change(person, AccountAct.OWN_PASSWORD, by=person)
    return person


@transaction.atomic
def deactivate(person, *, by, seen_version=None):
    """Let nobody sign in with this account any more; where it is signed in now, that ends at once."""
    if person == by:
        raise ValidationError("You cannot deactivate the account you are signed in with.")
    hold_pool()
    _check_seen(person, seen_version)
    switch_off(person, by=by)
    _refuse_without_keeper()
    return person


def switch_off(person, *, by, detail=""):
    """What deactivating does, without asking whether a keeper remains; call with the pool held."""
    User.objects.filter(pk=person.pk).update(is_active=False)
    Session.objects.filter(account=person).delete()
    end_feed(person, by=by)
    note_change(person, AccountAct.DEACTIVATED, by=by, detail=detail)


@transaction.atomic
def reactivate(person, *, by, seen_version=None):
    """Let the account be used again, with the role and password that it had; nobody is signed in with it."""
    hold_pool()
    _check_seen(person, seen_version)
    User.objects.filter(pk=person.pk).update(is_active=True)
    # of somebody who was signing in just when it was deactivated
    Session.objects.filter(account=person).delete()
    note_change(person, AccountAct.REACTIVATED, by=by)
    return person


def _new_person(name, role, password):
    person = User(username=name)
    _check_name(person)
    if password is not None:
        _check_password(password, person)
    person.set_password(password)
    person.save()
    person.groups.set([_group(role)])
    return person


def _give_password(person, password):
    person.set_password(password)
    person.save(update_fields=["password"])
    Session.objects.filter(account=person).delete()


def _group(role):
    if role not in ROLES:
        raise ValidationError({"role": f"“{role}” is not a role. Roles: {', '.join(ROLES)}."})
    return Group.objects.get(name=role)


def _check_name(person):
    try:
        # a name stands in addresses, like any code
        check_code(person.username)
        person.clean_fields(exclude=["password"])
    except ValidationError as error:
        raise ValidationError({"name": error.messages}) from error
    if code_key(person.username) in map(code_key, User.objects.values_list("username", flat=True)):
        raise ValidationError({"name": "Somebody has this name already. Choose another."})


def _check_password(password, person):
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from error


def _check_seen(person, seen):
    """Refuse what was sent from a page that showed the account otherwise; call with the pool held."""
    now = people().get(pk=person.pk)
    if seen not in (None, account_mark(now)):
        may = "may sign in" if now.is_active else "is deactivated"
        raise ValidationError(
            f"Somebody else changed this account meanwhile: {now} is {now.role} now, and {may}. It may also have "
            "another password. Look at it again before you save.",
            code="stale",
        )


def _refuse_without_keeper():
    if not User.objects.filter(is_active=True, groups__name=KEEP).exists():
        raise ValidationError("The pool needs a keeper who can sign in: make somebody else keeper first.")
