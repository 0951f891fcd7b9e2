"""Accounts: who may sign in, and in which role. None is ever deleted, because records name them."""

from django.contrib.auth.models import Group, User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from ..access import KEEP, ROLES


@transaction.atomic
def add_person(name, role, password):
    """A new account; refuses a name that differs from another only in capitals."""
    _check_role(role)
    person = User(username=name)
    validate_password(password, person)
    person.set_password(password)
    person.full_clean(exclude=["password"])
    if User.objects.filter(username__iexact=name).exists():
        raise ValidationError({"name": "Somebody has this name already."})
    try:
        with transaction.atomic():
            person.save()
    except IntegrityError as race:
        raise ValidationError({"name": "Somebody has this name already."}) from race
    person.groups.set([Group.objects.get(name=role)])
    return person


@transaction.atomic
def change_role(person, role):
    """Give a person another role; the pool always keeps a keeper."""
    _check_role(role)
    _take_turns()
    person.groups.set([Group.objects.get(name=role)])
    if role != KEEP:
        User.objects.filter(pk=person.pk).update(is_superuser=False)
    _refuse_without_keeper()


@transaction.atomic
def set_password(person, password):
    """A new password for somebody who forgot theirs; it ends their sessions."""
    validate_password(password, person)
    person.set_password(password)
    person.save(update_fields=["password"])


@transaction.atomic
def deactivate(person, *, by):
    """Let nobody sign in with this account any more; at once, also where it is signed in now."""
    if person == by:
        raise ValidationError("You cannot deactivate the account you are signed in with.")
    _take_turns()
    User.objects.filter(pk=person.pk).update(is_active=False)
    _refuse_without_keeper()


def reactivate(person):
    User.objects.filter(pk=person.pk).update(is_active=True)


def _check_role(role):
    if role not in ROLES:
        raise ValidationError(f"“{role}” is no role. Roles: {', '.join(ROLES)}.")


def _take_turns():
    """Two keepers who take each other's role away wait for each other here: an update locks its row."""
    Group.objects.filter(name=KEEP).update(name=KEEP)


def _refuse_without_keeper():
    if not User.objects.filter(is_active=True, groups__name=KEEP).exists():
        raise ValidationError("The pool needs a keeper who can sign in: make somebody else keeper first.")
