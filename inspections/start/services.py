"""The first ten minutes: mats without any record, the policy that goes with them, and what is due at once."""

from django.db import transaction

from fleet.services.start_here import register_mats

from ..policy.services import PolicyChange, change_policy

BECAUSE = "Start here"


@transaction.atomic
def start_pool(groups, policy, *, by, on):
    """Set these policy values and register the mats, all or nothing; returns the Load."""
    if policy:
        changes = [PolicyChange(setting, value) for setting, value in policy.items()]
        change_policy(changes, by=by, on=on, reason=BECAUSE)
    return register_mats(groups, by=by, on=on)
