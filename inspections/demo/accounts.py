"""One account for each role, so that the demo can be tried as each. The passwords are no secret."""

from dataclasses import dataclass

from django.contrib.auth.models import User

from fleet.access import BENCH, KEEP, LOG, LOOK
from fleet.services.people import add_person


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
