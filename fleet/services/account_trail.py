"""What was done to accounts is written beside the act, in its transaction, and only added to."""

from ..models import AccountChange


def note_change(account, act, *, by, detail=""):
    """Enter an act in the trail of an account. `by` is nobody where a command of the pool's computer did it."""
    length = AccountChange._meta.get_field("detail").max_length
    AccountChange.objects.create(account=account, act=act, detail=detail[:length], changed_by=by)
