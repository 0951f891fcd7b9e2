"""What the database refused because of somebody else's act at the same moment is done again, and nobody hears of it;
so is what was to be weighed before it goes on, once it is weighed."""

import random
import time

from django.contrib.messages import get_messages
from django.core.exceptions import ObjectDoesNotExist
from django.db import DatabaseError, IntegrityError

from fleet.services.confirmation import WeighFirst
from fleet.views.weighing import weigh

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
        found, pauses_s = request.resolver_match, iter(PAUSES_S)
        while _is_ready_again(request, failure, pauses_s):
            _forget_messages(request)
            try:
                return found.func(request, *found.args, **found.kwargs)
            except (WeighFirst, DatabaseError, ObjectDoesNotExist) as again:
                if not (isinstance(again, WeighFirst) or is_collision(again)):
                    raise
                failure = again
        return None


def _is_ready_again(request, failure, pauses_s):
    """Whether the view is to be run again after that failure; returns when it is time to."""
    if isinstance(failure, WeighFirst):
        weigh(request, failure)
        return True
    pause_s = next(pauses_s, None) if is_collision(failure) else None
    if pause_s is not None:
        time.sleep(random.uniform(0, pause_s))
    return pause_s is not None


def is_collision(failure):
    """Refused for what another transaction did: as a deadlock, or for a row that is there, or gone, since it looked."""
    state = getattr(failure.__cause__, "sqlstate", None)
    return isinstance(failure, IntegrityError | ObjectDoesNotExist) or state in (DEADLOCK, NOT_IN_LINE)


def _forget_messages(request):
    """What was said of an act that was taken back; messages of earlier pages stay."""
    get_messages(request)._queued_messages.clear()
