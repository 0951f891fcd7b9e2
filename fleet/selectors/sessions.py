"""Where accounts are signed in."""

from django.db.models import Case, When

from ..models import Session


def sessions_of(person, now, this=None):
    """The browsers that an account is signed in with, those that were used last first.

    `is_this`: the one of that key in the database.
    """
    is_this = Case(When(pk=this, then=True), default=False)
    return Session.objects.alive(now).filter(account=person).annotate(is_this=is_this).select_related("link")
