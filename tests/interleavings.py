"""Two acts at once, stepped: one stops where it is told to, the other goes as far as it can, then both end.

PostgreSQL alone: on SQLite the second writer waits until the first is done, wherever that one stops.
"""

import time
from contextlib import ExitStack
from threading import Event, Thread

from django.core.exceptions import ValidationError
from django.db import connection, transaction

AT_ITS_END = None
PATIENCE_S = 30
LOOK_EVERY_S = 0.01


class Act(Thread):
    """A service call in a thread and on a connection of its own; `outcome`: what it returned or raised.

    Stops before the statement of that number (AT_ITS_END: before it commits) until told to go on.
    """

    def __init__(self, call, stops=False, stop_at=AT_ITS_END):
        super().__init__(daemon=True)
        self.call, self.stops, self.stop_at = call, stops, stop_at
        self.statements, self.stopped, self.go_on, self.pid = 0, Event(), Event(), None
        self.outcome = None

    def run(self):
        try:
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_backend_pid()")
                self.pid = cursor.fetchone()[0]
            with ExitStack() as stack:
                if self.stops:
                    stack.enter_context(transaction.atomic())
                    stack.enter_context(connection.execute_wrapper(self._step))
                self.outcome = self.call()
                self._stop_if(self.stops)
        except Exception as raised:
            self.outcome = raised
        finally:
            self.stopped.set()
            connection.close()

    def _step(self, execute, sql, params, many, context):
        self.statements += 1
        self._stop_if(self.statements == self.stop_at)
        return execute(sql, params, many, context)

    def _stop_if(self, now):
        if now and not self.stopped.is_set():
            self.stopped.set()
            self.go_on.wait(PATIENCE_S)


def interleave(first, second, stop_at=AT_ITS_END):
    """Both acts ended: `first` stopped there, `second` ran until it was done or waited for the first."""
    first, second = Act(first, stops=True, stop_at=stop_at), Act(second)
    first.start()
    first.stopped.wait(PATIENCE_S)
    second.start()
    while second.is_alive() and not _waits(second.pid):
        time.sleep(LOOK_EVERY_S)
    first.go_on.set()
    for act in (first, second):
        act.join(PATIENCE_S)
        assert not act.is_alive(), "an act never ended"
    return first, second


def _waits(pid):
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_stat_activity WHERE pid = %s AND wait_event_type = 'Lock'", [pid])
        return cursor.fetchone()[0] > 0


def failures(*acts):
    """What an act raised that is no sentence for people."""
    raised = [act.outcome for act in acts if isinstance(act.outcome, Exception)]
    return [repr(outcome) for outcome in raised if not isinstance(outcome, ValidationError)]
