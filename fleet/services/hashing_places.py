"""Hashing a password takes a core for a third of a second: few do it at once, so that pages go on beside guessing."""

import os
from contextlib import contextmanager
from threading import BoundedSemaphore

from .sign_in_counts import TooManyTries

# half of the cores are left to pages
HASHING = max(1, min(2, (os.cpu_count() or 1) // 2))
HASHING_OR_WAITING = HASHING + 2
PATIENCE_S = 2
# told to whoever finds no place: by then those who hash are done
WAIT_S = 5

_places = BoundedSemaphore(HASHING)
# most threads of the server stay free for pages
_line = BoundedSemaphore(HASHING_OR_WAITING)


@contextmanager
def place_to_hash():
    """Run the block as one of few; TooManyTries where the line is full or does not move."""
    with _place_in(_line, 0), _place_in(_places, PATIENCE_S):
        yield


@contextmanager
def _place_in(places, patience_s):
    if not places.acquire(timeout=patience_s):
        raise TooManyTries(WAIT_S)
    try:
        yield
    finally:
        places.release()
