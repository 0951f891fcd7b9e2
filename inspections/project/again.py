"""What the database refused because of somebody else's act at the same moment is done again, and nobody hears of it."""

import random
import time

from django.contrib.messages import get_messages
from django.core.exceptions import ObjectDoesNotExist
from django.db import DatabaseError, IntegrityError

# waited before each further try, at most: two that met should not meet again
PAUSES_S = (0.05, 0.1, 0.2, 0.4, 0.8)
# PostgreSQL's codes for a deadlock and for a transaction that cannot be put in line with another
DEADLOCK, NOT_IN_LINE = "40P01", "40001"


class DoneAgain:
    """Runs the whole view again: its one transaction was taken back, and it has to look afresh.

    Told to the next middleware when it fails as often as that: then it was no accident.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_exception(self, request, failure):
        if not is_collision(failure):
            return None
        found = request.resolver_match
        for pause_s in PAUSES_S:
            time.sleep(random.uniform(0, pause_s))
            _forget_messages(request)
            try:
                return found.func(request, *found.args, **found.kwargs)
            except (DatabaseError, ObjectDoesNotExist) as again:
                if not is_collision(again):
                    raise
        return None


def is_collision(failure):
    """Refused for what another transaction did: as a deadlock, or for a row that is there, or gone, since it looked."""
    state = getattr(failure.__cause__, "sqlstate", None)
    return isinstance(failure, IntegrityError | ObjectDoesNotExist) or state in (DEADLOCK, NOT_IN_LINE)


def _forget_messages(request):
    """What was said of an act that was taken back; messages of earlier pages stay."""
    get_messages(request)._queued_messages.clear()
