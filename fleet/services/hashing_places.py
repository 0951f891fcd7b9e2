"""Hashing a password takes a core for a third of a second: few do it at once, so that pages go on beside guessing."""

from contextlib import contextmanager
from threading import BoundedSemaphore

from .sign_in_counts import TooManyTries

# told to whoever finds the line full: by then those who stand in it are done
WAIT_S = 5


class Line:
    """One hashes, few wait for that, and the rest go away: most threads of the server stay free for pages."""

    def __init__(self, waiting=2):
        self._line, self._place = BoundedSemaphore(1 + waiting), BoundedSemaphore(1)

    @contextmanager
    def joined(self):
        """Run the block in the line; TooManyTries where it is full."""
        if not self._line.acquire(blocking=False):
            raise TooManyTries(WAIT_S)
        try:
            yield
        finally:
            self._line.release()

    @contextmanager
    def place_to_hash(self):
        """Run the block as the only one of the line, which the caller has joined."""
        with self._place:
            yield


# guessers fill the first, so browsers that signed in before have one of their own: two hash at once at most
ANYBODY, KNOWN_BROWSERS = Line(), Line()
