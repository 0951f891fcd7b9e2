"""The accounts and their roles."""

import hashlib

from django.contrib.auth.hashers import identify_hasher
from django.contrib.auth.models import Group, User
from django.db.models import Case, Exists, OuterRef, Q, Subquery, Value, When
from django.shortcuts import get_object_or_404

from ..access import BENCH, KEEP, LOG, LOOK
from ..choices import AccountAct
from ..models import AccountChange

PASSWORD_ACTS = (AccountAct.MADE, AccountAct.PASSWORD_SET, AccountAct.OWN_PASSWORD)


def people():
    """All accounts with their `role`; one without a group may read, as every account may."""

    def is_in(role):
        return Exists(Group.objects.filter(name=role, user=OuterRef("pk")))

    role = Case(
        When(Q(is_superuser=True) | is_in(KEEP), then=Value(KEEP)),
        When(is_in(BENCH), then=Value(BENCH)),
        When(is_in(LOG), then=Value(LOG)),
        default=Value(LOOK),
    )
    return User.objects.annotate(role=role).order_by("-is_active", "username")


def get_person_or_404(name):
    return get_object_or_404(people(), username=name)


def account_mark(person):
    """Stands for what a keeper may change of an account, as it is now: role, password, whether it may sign in."""
    groups = sorted(person.groups.values_list("pk", flat=True))
    state = (person.pk, person.is_active, person.is_superuser, groups, person.password)
    return hashlib.sha256(repr(state).encode()).hexdigest()[:16]


def changes_of(person):
    """What was done to an account, newest first; of one that is older than this trail not all of it."""
    return AccountChange.objects.filter(account=person).select_related("changed_by")


def passwords_known_to(person):
    """Other accounts in use whose password they gave, and whose owner has not changed it since."""
    given = AccountChange.objects.filter(account=OuterRef("pk"), act__in=PASSWORD_ACTS)
    known = people().exclude(pk=person.pk).filter(is_active=True)
    return known.annotate(given_by=Subquery(given.values("changed_by")[:1])).filter(given_by=person.pk)


def nobody_has_an_account():
    """True for a new pool."""
    return not User.objects.exists()


def no_keeper_can_sign_in():
    """True for a new pool, and where all keepers are deactivated: then one is made at the pool's own computer."""
    return not keepers_who_can_sign_in()


def keepers_who_can_sign_in():
    """Their names."""
    keepers = people().filter(is_active=True, role=KEEP).order_by("username")
    return [keeper.username for keeper in keepers if _has_password(keeper)]


def _has_password(person):
    try:
        identify_hasher(person.password)
    except ValueError:
        return False
    return True
