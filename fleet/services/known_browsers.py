"""Browsers that signed in before: a signed mark in a cookie says with which accounts.

It lets nobody in. Whoever guesses elsewhere cannot make such a browser wait.
"""

import secrets
from dataclasses import dataclass
from datetime import timedelta

from django.core import signing
from django.utils.crypto import salted_hmac

SALT = "halfpower.known_browser"
KEPT = timedelta(days=365)
# people who share the computer of a workshop
MOST_ACCOUNTS = 8


@dataclass(frozen=True)
class Browser:
    """`accounts`: fingerprints, newest first."""

    mark: str = ""
    accounts: tuple = ()

    @classmethod
    def read(cls, text):
        """What `packed` says; one that nobody knows where it is not ours or a year old."""
        try:
            mark, accounts = signing.loads(text, salt=SALT, max_age=KEPT)
        except signing.BadSignature:
            return UNKNOWN
        return cls(mark, tuple(accounts))

    @property
    def packed(self):
        return signing.dumps([self.mark, self.accounts], salt=SALT)

    def mark_for(self, person):
        """The mark where this account, with the password that it has now, signed in here before; else ""."""
        return self.mark if person is not None and _fingerprint(person) in self.accounts else ""

    def after(self, person):
        """The same browser, now that this account signed in."""
        others = [account for account in self.accounts if account != _fingerprint(person)]
        return Browser(self.mark or secrets.token_urlsafe(12), (_fingerprint(person), *others)[:MOST_ACCOUNTS])


UNKNOWN = Browser()


def _fingerprint(person):
    """Another one with another password: marks collected by who knew the old one are worth nothing."""
    return salted_hmac(SALT, f"{person.pk} {person.password}", algorithm="sha256").hexdigest()[:32]
