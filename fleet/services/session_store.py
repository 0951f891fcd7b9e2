"""Where Django keeps who is signed in: rows of our own that know whose they are, from where and since when."""

from datetime import timedelta

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends import db
from django.db import DatabaseError, transaction
from django.utils import timezone

from ..access import LINK_OF_SESSION
from ..models import LogLink, Session
from ..models.accounts import hash_of
from .locks import not_waiting_for_writers
from .session_keys import new_key

# how old the word of when a browser was last here may be: a page that only reads seldom writes it anew
SEEN_EVERY = timedelta(minutes=10)


class SessionStore(db.SessionStore):
    """The browser has the key, the database only its hash.

    `address` and `device` are those of who asks now, said by the middleware before the session is used.
    """

    address = device = ""
    _row = None

    @classmethod
    def get_model_class(cls):
        return Session

    @classmethod
    def clear_expired(cls):
        Session.objects.dead(timezone.now()).delete()

    def exists(self, session_key):
        return Session.objects.filter(pk=hash_of(session_key)).exists()

    def delete(self, session_key=None):
        if key := session_key or self.session_key:
            Session.objects.filter(pk=hash_of(key)).delete()

    def create(self):
        self.clear_expired()
        # a row of its own: it begins now
        self._row = None
        super().create()

    def _get_new_session_key(self):
        return new_key()

    def create_model_instance(self, data):
        now = timezone.now()
        row = self._row or Session(started_at=now, seen_at=now, address=self.address, device=self.device)
        row.session_key = hash_of(self._get_or_create_session_key())
        row.session_data = self.encode(data)
        row.account_id, row.link_id = data.get(SESSION_KEY), data.get(LINK_OF_SESSION)
        row.expire_date = min(self.get_expiry_date(), row.started_at + settings.SESSION_LONGEST)
        return row

    def note_seen(self):
        """Somebody is here; not told where the storage does not take it, for no page is worth less without it."""
        now = timezone.now()
        if self._row is None or now - self._row.seen_at < SEEN_EVERY:
            return
        seen = {"seen_at": now, "address": self.address, "device": self.device}
        try:
            with not_waiting_for_writers(), transaction.atomic():
                Session.objects.filter(pk=self._row.pk).update(**seen)
                if self._row.link_id:
                    LogLink.objects.filter(pk=self._row.link_id).update(used_at=now)
        except DatabaseError:
            return

    def _get_session_from_db(self):
        self._row = Session.objects.alive(timezone.now()).filter(pk=hash_of(self.session_key)).first()
        if self._row is None:
            self._session_key = None
        return self._row
