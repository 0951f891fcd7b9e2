"""Refusals that a person may overrule after seeing what they are about.

Any service may raise one; `fleet.views.pages.submit` shows it above the form with a tick and hands the answer to the
act as `confirmed`.
"""

import hashlib
from contextlib import contextmanager
from contextvars import ContextVar

from django.core.exceptions import ValidationError

from ..models import CableSegment
from ..signals import correction_begins

MEANT = "It is meant: save it"
_apart = ContextVar("weighs_apart", default=False)


class WantsConfirmation(ValidationError):
    """Refused until it is sent again with the `fingerprint` of exactly `what` was shown.

    `message`: one sentence or several; `points`: what they are about, one a line; `tick`: the words beside the tick.
    `others`: {name: words} of other ways out, of which the person chooses one.
    """

    def __init__(self, message, code, what, *, points=(), tick=MEANT, others=None):
        super().__init__(message, code=code)
        self.what, self.points, self.tick = what, [str(point) for point in points], tick
        self.others = others or {}

    @property
    def fingerprint(self):
        return fingerprint_of(self.what)

    @property
    def ways(self):
        """{name: (fingerprint, words)}; the first, without a name, is the tick."""
        others = {name: (fingerprint_of([name, *self.what]), words) for name, words in self.others.items()}
        return {"": (self.fingerprint, self.tick)} | others

    def raise_unless(self, confirmed):
        """`confirmed`: the fingerprints of all that was ticked, with blanks between; the name of the way chosen."""
        ticked = confirmed.split()
        for name, (fingerprint, _) in self.ways.items():
            if fingerprint in ticked:
                return name
        raise self


class WeighFirst(Exception):
    """An act is to be weighed before it goes on, and that takes long: it lets go of what it holds meanwhile.

    `weigh(confirmed)`: raises what is to be asked, or returns the fingerprint by which the act goes on.
    """

    def __init__(self, weigh):
        super().__init__("weigh first")
        self.weigh = weigh


def weighs_apart():
    """Whoever called the act begins it anew once it is weighed (`fleet/views/weighing.py`)."""
    return _apart.get()


@contextmanager
def weighing_apart(apart):
    """Whether what takes long to weigh is weighed outside of the act, which is begun anew then."""
    before = _apart.set(apart)
    try:
        yield
    finally:
        _apart.reset(before)


def fingerprint_of(what):
    return hashlib.sha256(";".join(what).encode()).hexdigest()[:16]


class UnusualValues(WantsConfirmation):
    """Values that are likely slips of the hand; each sentence names its value, so that another one asks again."""

    def __init__(self, sentences):
        message = "This is unusual. Correct it, or say that it is meant."
        super().__init__(message, "unusual", sentences, points=sentences)


@contextmanager
def weighed(*segments, on, confirmed):
    """Around one correction of these segments, or of their fittings or readings, in a transaction of the caller.

    Receivers of `correction_begins` see what was and what is, and may want it confirmed. `confirmed` None: nobody is
    there to be asked.
    """
    if confirmed is None:
        yield
        return
    segment_ids = sorted(segment.pk for segment in segments)
    looks = [look for _, look in correction_begins.send(CableSegment, segment_ids=segment_ids, on=on)]
    yield
    for look in looks:
        look(confirmed)
