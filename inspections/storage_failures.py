"""What a disk or a database says when it fails, in sentences and with what to do about it."""

import errno
import sqlite3
from dataclasses import dataclass

from django.db import Error as DatabaseError


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
DAMAGED = StorageError(
    "The database of the pool is damaged.",
    "Ask whoever runs Halfpower to stop it and start it again. It then says how to restore the newest good copy.",
    503,
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
    "disk image is malformed": DAMAGED,
    "malformed database schema": DAMAGED,
    "file is not a database": DAMAGED,
    "unsupported file format": DAMAGED,
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
    if isinstance(failure, DatabaseError | sqlite3.Error):
        said = str(failure).lower()
        return next((error for words, error in SAID.items() if words in said), None)
    return None


def storage_error_behind(failure):
    """That of an exception, or else of the one in whose handling it came up, and so on."""
    while failure and not storage_error_of(failure):
        failure = failure.__context__
    return failure and storage_error_of(failure)
