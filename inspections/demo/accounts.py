"""One account for each role, so that the demo can be tried as each. The passwords are no secret."""

from dataclasses import dataclass

from django.contrib.auth.models import User
from django.db import transaction

from fleet.access import BENCH, KEEP, LOG, LOOK
from fleet.choices import AccountAct
from fleet.selectors.people import changes_of
from fleet.services.locks import hold_pool
from fleet.services.people import add_person, reactivate, switch_off

# by which the trail tells what a command switched off from what a keeper did
PRINTED = "everybody can read its password"


@dataclass(frozen=True)
class DemoAccount:
    name: str
    role: str
    password: str


ACCOUNTS = (
    DemoAccount("ida", KEEP, "peat-lane-keeper"),
    DemoAccount("tam", BENCH, "peat-lane-bench"),
    DemoAccount("odo", LOG, "peat-lane-log"),
    DemoAccount("wren", LOOK, "peat-lane-visit"),
)


def make_accounts():
    """Make those that are missing; one that is there keeps the password it has. Returns the keeper's."""
    for account in ACCOUNTS:
        if not User.objects.filter(username=account.name).exists():
            add_person(account.name, account.role, account.password, by=None)
    return User.objects.get(username=ACCOUNTS[0].name)


def sign_ins():
    """(account, whether it still has the password it was made with), for those that are there and may sign in."""
    people = {user.username: user for user in User.objects.filter(is_active=True)}
    known = [account for account in ACCOUNTS if account.name in people]
    return [(account, people[account.name].check_password(account.password)) for account in known]


@transaction.atomic
def switch_off_accounts():
    """Let nobody sign in with a password that everybody can read; the names of the accounts that had one."""
    hold_pool()
    names = [account.name for account, unchanged in sign_ins() if unchanged]
    for name in names:
        switch_off(User.objects.get(username=name), by=None, detail=PRINTED)
    return names


@transaction.atomic
def switch_on_accounts():
    """Undo `switch_off_accounts`, and no more: what a keeper deactivated stays so. The names."""
    hold_pool()
    names = [account.name for account in ACCOUNTS]
    people = [person for person in User.objects.filter(username__in=names, is_active=False) if _is_ours(person)]
    for person in people:
        reactivate(person, by=None)
    return [name for name in names if name in {person.username for person in people}]


def _is_ours(person):
    last = changes_of(person).filter(act=AccountAct.DEACTIVATED).first()
    return last is not None and (last.changed_by, last.detail) == (None, PRINTED)
