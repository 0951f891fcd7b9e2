"""Signing out browsers that are elsewhere."""

from django.db import transaction

from ..choices import AccountAct
from ..models import Session
from ..parsing.counts import counted
from ..selectors.sessions import sessions_of
from .account_trail import note_change
from .locks import hold_all


@transaction.atomic
def end_sessions(person, *, by, now, only=None, but=None):
    """Sign an account out: in all its browsers, `only` in the one of this key, or in all `but` that of this key.

    Which browsers that were, in words; "" where there was none any more. Keys are those of the database.
    """
    wanted = sessions_of(person, now).exclude(pk=but)
    held = hold_all(wanted.filter(pk=only) if only else wanted)
    Session.objects.filter(pk__in=[session.pk for session in held]).delete()
    if not held:
        return ""
    words = str(held[0]) if len(held) == 1 else counted(len(held), "browser")
    note_change(person, AccountAct.SESSIONS_ENDED, by=by, detail=words)
    return words
