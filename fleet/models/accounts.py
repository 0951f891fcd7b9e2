"""Who is signed in, who tried to, by which phone links, and what was done to accounts."""

import hashlib
from datetime import datetime, time, timedelta

from django.conf import settings
from django.contrib.sessions.base_session import AbstractBaseSession, BaseSessionManager
from django.db import models
from django.db.models import Q
from django.utils import timezone

from ..choices import AccountAct, SignInOutcome
from ..figures import short_time
from ..validators import NAME_LENGTH
from .fields import LineField

# the hexadecimal digits of a SHA-256
HASH_LENGTH = 64
# as the longest way to write an IPv6 address, and the network of one
ADDRESS_LENGTH = 64
DEVICE_LENGTH = 200


class LogLinkQuerySet(models.QuerySet):
    def open(self, on):
        """Neither withdrawn nor over; the account may still stand in the way."""
        return self.filter(withdrawn_at=None, ends_on__gte=on)

    def of_secret(self, secret):
        return self.filter(secret_hash=hash_of(secret))


def hash_of(secret):
    """Under which the secret of a link, or the key of a session, stands in the database.

    Without salt or slowness: both are as long as chance makes them, so nobody can try them all.
    """
    return hashlib.sha256(secret.encode(errors="replace")).hexdigest()


class LogLink(models.Model):
    """An address that signs a phone in as an account that may log and no more. Of its secret only the hash is kept."""

    account = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="log_links")
    name = LineField(max_length=NAME_LENGTH, help_text="Which phone or group it is for.")
    secret_hash = models.CharField(max_length=HASH_LENGTH, unique=True, editable=False)
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    ends_on = models.DateField(help_text="The last day on which it signs anybody in.")
    used_at = models.DateTimeField(null=True, blank=True, editable=False)
    withdrawn_at = models.DateTimeField(null=True, blank=True, editable=False)
    # nobody, where a restore withdrew it
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, editable=False, related_name="+"
    )

    objects = LogLinkQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="a_log_link_says_whom_it_is_for"),
            models.CheckConstraint(
                condition=Q(withdrawn_by__isnull=True) | Q(withdrawn_at__isnull=False),
                name="who_withdrew_a_log_link_did_it_some_time",
            ),
        ]

    def __str__(self):
        return self.name

    @property
    def ends_at(self):
        """The first moment after its last day, where the pool is."""
        return timezone.make_aware(datetime.combine(self.ends_on + timedelta(days=1), time.min))


class SessionQuerySet(models.QuerySet):
    def alive(self, now):
        """Neither at their end nor left alone too long."""
        return self.filter(alive(now))

    def dead(self, now):
        return self.exclude(alive(now))


def alive(now, of=""):
    """The condition of being alive; `of`: the way to the sessions from other rows."""
    return Q(**{f"{of}expire_date__gt": now, f"{of}seen_at__gt": now - settings.SESSION_IDLE})


class Session(AbstractBaseSession):
    """A browser that is signed in. `session_key` holds the hash of the key that the browser has: a copy of this table
    lets nobody in.
    """

    session_key = models.CharField(max_length=HASH_LENGTH, primary_key=True)
    account = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, null=True, related_name="sessions")
    link = models.ForeignKey(LogLink, models.CASCADE, null=True, related_name="sessions")
    started_at = models.DateTimeField(default=timezone.now)
    seen_at = models.DateTimeField(default=timezone.now)
    address = models.CharField(max_length=ADDRESS_LENGTH, blank=True)
    device = models.CharField(max_length=DEVICE_LENGTH, blank=True)

    objects = BaseSessionManager.from_queryset(SessionQuerySet)()

    class Meta:
        ordering = ["-seen_at"]

    def __str__(self):
        return f"{self.device}, {self.address}" if self.address else self.device


class SignInTry(models.Model):
    """Somebody tried to sign in. A name that no account has is not kept: it may be a password in the wrong field."""

    tried_at = models.DateTimeField(default=timezone.now, db_index=True)
    account = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, null=True, related_name="sign_in_tries")
    address = models.CharField(max_length=ADDRESS_LENGTH)
    outcome = models.CharField(max_length=20, choices=SignInOutcome.choices)

    class Meta:
        ordering = ["-tried_at", "-pk"]

    def __str__(self):
        return f"{self.outcome} {short_time(self.tried_at)}"


class SignInCount(models.Model):
    """Failures in a row of one account name, one network address, or both; `key` is a hash of what is counted."""

    key = models.CharField(max_length=HASH_LENGTH, primary_key=True)
    failures = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField(db_index=True)
    wait_until = models.DateTimeField(null=True)
    # whether somebody heard of this wait: only the first who does is written down
    told = models.BooleanField(default=False)

    def __str__(self):
        return f"{self.failures} of {self.key[:8]}"


class AccountChange(models.Model):
    """What was done to an account, by whom and when. Only added to."""

    account = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="changes")
    act = models.CharField(max_length=20, choices=AccountAct.choices)
    # the role given, the link made: what the act alone does not say
    detail = models.CharField(max_length=200, blank=True)
    changed_at = models.DateTimeField(default=timezone.now)
    # nobody, where a command of this computer did it
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-changed_at", "-pk"]

    def __str__(self):
        return f"{self.act} {short_time(self.changed_at)}"
