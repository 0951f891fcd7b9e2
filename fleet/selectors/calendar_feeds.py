"""Who has an address for the calendar, and whose a secret is."""

from ..choices import AccountAct
from ..models import AccountChange, CalendarFeed


def feed_of(account):
    """The feed of an account; None where it has none."""
    return CalendarFeed.objects.filter(account=account).first()


def find_working_feed(secret):
    """The feed of this secret; None, whatever is wrong with it."""
    return CalendarFeed.objects.working().of_secret(secret).first()


def a_restore_ended_feeds(since):
    """Whether any was ended by nobody since that moment."""
    ended = AccountChange.objects.filter(act=AccountAct.CALENDAR_ENDED, changed_by=None)
    return ended.filter(changed_at__gte=since).exists()
