"""Hashing a password takes a core for a third of a second: few do it at once, so that pages go on beside guessing."""

from contextlib import contextmanager
from threading import BoundedSemaphore, Lock

from .sign_in_counts import TooManyTries

# told to whoever finds the line full: by then those who stand in it are done
WAIT_S = 5


class Line:
    """One hashes, few wait for that, and the rest go away: most threads of the server stay free for pages.

    Nobody fills it alone: who signs in again and again, even rightly, keeps nobody else out.
    """

    def __init__(self, waiting=2):
        self._room, self._place = 1 + waiting, BoundedSemaphore(1)
        self._names, self._lock = [], Lock()

    @contextmanager
    def joined(self, name):
        """Run the block in the line; TooManyTries where it is full, or but for one place full of that name."""
        with self._lock:
            if self._names.count(name) >= self._room - 1 or len(self._names) >= self._room:
                raise TooManyTries(WAIT_S)
            self._names.append(name)
        try:
            yield
        finally:
            with self._lock:
                self._names.remove(name)

    @contextmanager
    def place_to_hash(self):
        """Run the block as the only one of the line, which the caller has joined."""
        with self._place:
            yield


# guessers fill the first, so browsers that signed in before have one of their own: two hash at once at most
ANYBODY, KNOWN_BROWSERS = Line(), Line()
