"""The code that the first account is made with: only the pool's terminal shows it, for any program of this computer,
and where a whole network is served any of that, reaches the page.

It lives in the memory of the process that serves, and ends with it.
"""

import secrets
from dataclasses import dataclass, field
from threading import Lock
from time import monotonic

from django.core.exceptions import ValidationError

# none that is taken for another: 7 * 10^10 codes, of which somebody may try five a minute
LETTERS = "abcdefghjkmnpqrstuvwxyz"
GROUPS, GROUP = 2, 4
TRIES, WAIT_S = 5, 60
WRONG = "This is not the code that the terminal shows."
USED_UP = "This is not the code either. The terminal shows a new one: wait a minute, then type that."
WAITS = "Too many wrong codes came from here. Wait a minute, then type the code that the terminal shows now."

_asked = {"code": None}


@dataclass
class _Tries:
    wrong: int = 0
    last_s: float = field(default_factory=monotonic)


class FirstCode:
    """`show` prints the code where only the owner of the computer reads it; `from_network`: others may use it too."""

    def __init__(self, show, from_network):
        self.from_network, self._show, self._lock, self._tries = from_network, show, Lock(), {}
        self._code = new_code()

    def show(self):
        self._show(self._code)

    def check(self, typed, address):
        """ValidationError unless this is the code. After some wrong ones of an address another code holds."""
        with self._lock:
            self._forget_old_tries()
            tries = self._tries.setdefault(address, _Tries())
            if tries.wrong >= TRIES:
                raise ValidationError(WAITS)
            if secrets.compare_digest(_plain(typed), _plain(self._code)):
                return
            tries.wrong, tries.last_s = tries.wrong + 1, monotonic()
            if tries.wrong < TRIES:
                raise ValidationError(WRONG)
            self._code = new_code()
            self.show()
            raise ValidationError(USED_UP)

    def _forget_old_tries(self):
        long_ago = monotonic() - WAIT_S
        self._tries = {address: tries for address, tries in self._tries.items() if tries.last_s > long_ago}


def new_code():
    letters = [secrets.choice(LETTERS) for _ in range(GROUPS * GROUP)]
    return "-".join("".join(letters[start : start + GROUP]) for start in range(0, len(letters), GROUP))


def ask_for_code(show, from_network=False):
    """From now on whoever makes the first account types a code; the FirstCode."""
    _asked["code"] = FirstCode(show, from_network)
    return _asked["code"]


def asked_code():
    """The FirstCode of this process; None where none is asked for."""
    return _asked["code"]


def _plain(typed):
    """However it is written; as bytes, because anything at all may have been typed."""
    return "".join(filter(str.isalnum, typed)).casefold().encode("utf-8", "surrogatepass")
