"""Keys of sessions that tell by themselves that this pool made them, before any database is asked."""

from django.utils.crypto import constant_time_compare, get_random_string, salted_hmac

RANDOM, MARK = 32, 16


def new_key():
    random = get_random_string(RANDOM)
    return random + _mark(random)


def is_made_here(key):
    """Whether this pool made that key; whether anybody is still signed in by it only the database knows."""
    return constant_time_compare(_mark(key[:RANDOM]), key[RANDOM:])


def _mark(random):
    return salted_hmac("fleet.services.session_keys", random, algorithm="sha256").hexdigest()[:MARK]
