"""Addresses from which a calendar program fetches the work on the table."""

from django.conf import settings
from django.db import models
from django.utils import timezone

from .accounts import HASH_LENGTH, hash_of


class CalendarFeedQuerySet(models.QuerySet):
    def working(self):
        """Of accounts that may sign in."""
        return self.filter(account__is_active=True)

    def of_secret(self, secret):
        return self.filter(secret_hash=hash_of(secret))


class CalendarFeed(models.Model):
    """The one address of an account; whoever knows it may read the calendar, and nothing else. Of its secret only the
    hash is kept.
    """

    account = models.OneToOneField(settings.AUTH_USER_MODEL, models.CASCADE, related_name="calendar_feed")
    secret_hash = models.CharField(max_length=HASH_LENGTH, unique=True, editable=False)
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    fetched_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = CalendarFeedQuerySet.as_manager()

    def __str__(self):
        return f"calendar address of {self.account}"
