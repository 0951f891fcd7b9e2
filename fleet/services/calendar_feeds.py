"""The secret address of the calendar: made, made anew, ended. Nobody knows the secret but who was shown it."""

import secrets
from datetime import timedelta

from django.db import DatabaseError, transaction

from ..choices import AccountAct
from ..models import CalendarFeed
from ..models.accounts import hash_of
from .account_trail import note_change
from .locks import hold_pool, not_waiting_for_writers

SECRET_BYTES = 32
# programs fetch as often as they like; the day and about the hour is what somebody wants to know
NOTED_EVERY = timedelta(hours=1)


def new_secret():
    return secrets.token_urlsafe(SECRET_BYTES)


@transaction.atomic
def renew_feed(account, *, secret, now):
    """The address of this secret in place of the one that the account had, which leads nowhere from now on."""
    hold_pool()
    CalendarFeed.objects.filter(account=account).delete()
    note_change(account, AccountAct.CALENDAR_MADE, by=account)
    return CalendarFeed.objects.create(account=account, secret_hash=hash_of(secret), made_at=now)


@transaction.atomic
def end_feed(account, *, by):
    """Let the address of the account lead nowhere; returns whether there was one."""
    ended, _ = CalendarFeed.objects.filter(account=account).delete()
    if ended:
        note_change(account, AccountAct.CALENDAR_ENDED, by=by)
    return bool(ended)


@transaction.atomic
def end_all_feeds():
    """By nobody, after a restore: one that was made anew since the back-up must not work again."""
    for feed in CalendarFeed.objects.select_related("account"):
        end_feed(feed.account, by=None)


def note_fetched(feed, *, now):
    """A program was here; not told where the storage does not take it at once."""
    if feed.fetched_at and now - feed.fetched_at < NOTED_EVERY:
        return
    try:
        with not_waiting_for_writers(), transaction.atomic():
            CalendarFeed.objects.filter(pk=feed.pk).update(fetched_at=now)
    except DatabaseError:
        return
