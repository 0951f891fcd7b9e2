"""A disk that is full, a folder that may not be written, a database that is busy or away: a sentence, not a failure."""

import errno
import logging
import sys
from dataclasses import dataclass

from django.db import Error as DatabaseError
from django.http import HttpResponse
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.views.defaults import bad_request, server_error

from .resubmission import SentForm

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class StorageError:
    """What happened, what to do about it, and the status of the answer."""

    what: str
    do: str
    status: int


FULL = StorageError("The disk that holds the pool is full.", "Free some space on it first.", 507)
READ_ONLY = StorageError(
    "The pool can be read but not written.",
    "Let the account that runs Halfpower write to the data folder first, or ask the person in charge of the computer.",
    503,
)
UNWRITABLE = StorageError(
    "The disk that holds the pool could not be written to.",
    "It may be full or failing. Check it first, or ask the person in charge of the computer.",
    507,
)
BUSY = StorageError("The pool was busy for too long.", "Wait a moment.", 503)
AWAY = StorageError(
    "The database does not answer.",
    "Wait a moment. If it still does not answer, ask the person in charge of it.",
    503,
)
# what SQLite and PostgreSQL say, in small letters
SAID = {
    "disk is full": FULL,
    "no space left": FULL,
    "could not extend file": FULL,
    "readonly database": READ_ONLY,
    "read-only transaction": READ_ONLY,
    "disk i/o error": UNWRITABLE,
    "could not write": UNWRITABLE,
    "database is locked": BUSY,
    "database table is locked": BUSY,
    "lock timeout": BUSY,
    "deadlock detected": BUSY,
    "unable to open database file": AWAY,
    "connection failed": AWAY,
    "connection refused": AWAY,
    "connection is bad": AWAY,
    "connection is closed": AWAY,
    "closed the connection": AWAY,
    "terminating connection": AWAY,
    "starting up": AWAY,
    "shutting down": AWAY,
    "too many clients": AWAY,
    "connection slots are reserved": AWAY,
}
ERRNO = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EFBIG: FULL,
    errno.EROFS: READ_ONLY,
    errno.EACCES: READ_ONLY,
    errno.EPERM: READ_ONLY,
    errno.EIO: UNWRITABLE,
}


def storage_error_of(failure):
    """The StorageError that an exception means; None where it is something else."""
    if isinstance(failure, OSError):
        return ERRNO.get(failure.errno)
    if isinstance(failure, DatabaseError):
        said = str(failure).lower()
        return next((error for words, error in SAID.items() if words in said), None)
    return None


class StorageErrors:
    """Answers what went wrong inside a view, whose one transaction has then been taken back."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_exception(self, request, failure):
        error = storage_error_of(failure)
        if error is None:
            return None
        log.error("%s %s: %s", request.method, request.path, error.what, exc_info=failure)
        return _page(request, error, in_view=True)


def failure(request):
    """The page of every other failure; one of the storage outside a view may have come after the act was kept."""
    error = storage_error_of(sys.exc_info()[1])
    return _page(request, error, in_view=False) if error else server_error(request)


def not_understood(request, exception):
    """The page of a broken request. Sessions call it so, too, when the storage does not take them."""
    while exception and not storage_error_of(exception):
        exception = exception.__context__
    return _page(request, storage_error_of(exception), in_view=False) if exception else bad_request(request, exception)


def _page(request, error, in_view):
    """Rendered without the request: who is signed in stands in the very storage that failed."""
    context = {"error": error, "in_view": in_view, "wrote": request.method == "POST"}
    context |= {"sent": SentForm.of(request), "token": get_token(request)}
    return HttpResponse(render_to_string("storage_error.html", context), status=error.status)
