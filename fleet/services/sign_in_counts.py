"""How often somebody may guess a password. Tries are counted in the database, before any password is looked at.

Counted is a name at a network (strictly: nobody mistypes their own password more often), a name from everywhere and a
network with whatever names (generously: a workshop shares one address, and whoever guesses from elsewhere should not
keep a keeper out for long). A browser that signed in with the account before is counted by itself and under nothing
else, so that nobody's guessing reaches it. Names that no account has count alike.

The waits double from half a minute, which somebody who mistyped can sit out, to a quarter of an hour: from one place
96 guesses a day, where a password that is taken at all withstands millions. Each quiet spell as long as the longest
wait takes one failure back: the slips of a week do not add up, and guessing slowly gains nothing.
"""

from dataclasses import dataclass
from datetime import timedelta
from ipaddress import ip_address, ip_network
from math import ceil

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Q
from django.utils.crypto import salted_hmac

from ..models import SignInCount

FIRST_WAIT, LONGEST_WAIT, LONGEST_FROM_ELSEWHERE = timedelta(seconds=30), timedelta(minutes=15), timedelta(minutes=5)
FREE, FREE_SHARED = 5, 50
# the doublings from the first wait to the longest; failures beyond it say nothing more
DOUBLINGS = 5
# by then every count has gone down to nothing by itself
COUNTS_KEPT = timedelta(days=1)
# an IPv6 network gives its computers as many addresses as they like
IPV6_NETWORK_BITS = 64
CLEARED_AT_ONCE = 100


class TooManyTries(ValidationError):
    """Says how long to wait; `is_news` for the first who hears of this wait."""

    def __init__(self, wait_s, is_news=False):
        self.wait_s, self.is_news = wait_s, is_news
        super().__init__(f"Too many tries in a short time. Wait {_words(wait_s)}, then try again.", code="wait")


@dataclass(frozen=True)
class Count:
    """What is counted under one key: so many failures are free, then each makes wait longer."""

    key: str
    free: int = FREE
    longest: timedelta = LONGEST_WAIT
    # by many people, who do not clear it for each other
    is_shared: bool = False

    def failures_after(self, row, now):
        """Its failures with one more, those taken back that were long ago."""
        quiet = max(0, (now - row.last_at) // self.longest)
        return min(max(0, row.failures - quiet) + 1, self.free + DOUBLINGS)

    def wait_after(self, failures):
        return min(FIRST_WAIT * 2 ** (failures - self.free), self.longest) if failures >= self.free else None

    def wait_left(self, row, now):
        """Nothing where the wait is over, nor where it is longer than any: the clock was wrong when it began."""
        left = row.wait_until - now if row.wait_until else timedelta(0)
        return left if timedelta(0) < left <= self.longest else timedelta(0)


def counts_of_sign_in(name, address, browser=""):
    """What a try with this name counts under; `browser`: the mark of one that signed in with the account before."""
    if browser:
        return [Count(_key("browser", name, browser))]
    network = network_of(address)
    return [
        Count(_key("name at network", name, network)),
        Count(_key("name", name), FREE_SHARED, LONGEST_FROM_ELSEWHERE),
        Count(_key("network", network), FREE_SHARED, is_shared=True),
    ]


def counts_of_old_password(person):
    """What a try to say the password of one's own account counts under; it keeps nobody from signing in."""
    return [Count(_key("old password", person.pk))]


def refuse_while_waiting(counts, now):
    """TooManyTries while one of the counts makes wait. Nothing is written but once a wait, so refusing is cheap."""
    rows = {row.key: row for row in SignInCount.objects.filter(pk__in=[count.key for count in counts])}
    waits = {count.key: wait for count in counts if (wait := _wait_left(count, rows, now))}
    if waits:
        untold = [key for key in waits if not rows[key].told]
        is_news = bool(untold) and SignInCount.objects.filter(pk__in=untold, told=False).update(told=True) > 0
        raise TooManyTries(ceil(max(waits.values()).total_seconds()), is_news)


def count_try(counts, now):
    """Count a try as failed under each, all or none; TooManyTries while one of them makes wait."""
    while not _counted(counts, now):
        # somebody else's try at the same moment began a wait, or has ended it since
        refuse_while_waiting(counts, now)


def forget_failures(counts, now):
    """The password of the try at that moment was right: it was no failure, nor do those before it matter.

    What others share has only this one taken back, and a wait only where this one began it.
    """
    rows = SignInCount.objects.filter(pk__in=[count.key for count in counts if not count.is_shared])
    shared = SignInCount.objects.filter(pk__in=[count.key for count in counts if count.is_shared], failures__gt=0)
    rows.delete()
    shared.filter(last_at=now).update(wait_until=None)
    shared.update(failures=F("failures") - 1)


def clear_old_counts(now):
    """Delete some of those that count for nothing any more."""
    old = SignInCount.objects.filter(Q(last_at__lt=now - COUNTS_KEPT) | Q(last_at__gt=now + COUNTS_KEPT))
    SignInCount.objects.filter(pk__in=list(old.values_list("pk", flat=True)[:CLEARED_AT_ONCE])).delete()


def network_of(address):
    """The IPv4 address, or the network of an IPv6 one; what is neither stands for itself."""
    try:
        parsed = ip_address(address)
    except ValueError:
        return address
    parsed = getattr(parsed, "ipv4_mapped", None) or parsed
    if parsed.version == 4:
        return str(parsed)
    return str(ip_network((int(parsed), IPV6_NETWORK_BITS), strict=False))


@transaction.atomic
def _counted(counts, now):
    """Whether the try was counted: not while one of the counts makes wait."""
    rows = _hold(counts, now)
    if any(_wait_left(count, rows, now) for count in counts):
        return False
    _store(counts, rows, now)
    return True


def _hold(counts, now):
    """The rows of these counts, made where there were none, and nobody else's until the transaction ends."""
    keys = sorted(count.key for count in counts)
    SignInCount.objects.bulk_create([SignInCount(key=key, last_at=now) for key in keys], ignore_conflicts=True)
    held = SignInCount.objects.filter(pk__in=keys).order_by("pk").select_for_update()
    return {key: SignInCount(key=key, last_at=now) for key in keys} | {row.key: row for row in held}


def _store(counts, rows, now):
    for count in counts:
        row = rows[count.key]
        row.failures = count.failures_after(row, now)
        wait = count.wait_after(row.failures)
        row.last_at, row.wait_until, row.told = now, wait and now + wait, False
    fields = ["failures", "last_at", "wait_until", "told"]
    SignInCount.objects.bulk_create(
        [rows[key] for key in sorted(rows)], update_conflicts=True, update_fields=fields, unique_fields=["key"]
    )


def _wait_left(count, rows, now):
    return count.wait_left(rows[count.key], now) if count.key in rows else timedelta(0)


def _key(*what):
    """Neither a name nor an address can be read out of the table."""
    return salted_hmac("halfpower.sign_in_count", repr(what), algorithm="sha256").hexdigest()


def _words(seconds):
    if seconds > 90:
        return f"{ceil(seconds / 60)} minutes"
    return f"{seconds} second{'' if seconds == 1 else 's'}"
