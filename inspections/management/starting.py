"""Two starts on one data folder at the same moment: the second waits until the first has set up what both need."""

import contextlib
import os
import time

from django.conf import settings
from django.core.exceptions import ValidationError

from inspections.backup.database_startup import refuse_read_only_folder
from inspections.data_folder import STARTING
from inspections.static_files import collect_static_files

TAKEN = "A start or a restore of this pool is under way. Wait a minute, then try again. Nothing was done."


@contextlib.contextmanager
def one_start_at_a_time(patience_s=float("inf")):
    """Hold a lock in the data folder; the system frees it when a start dies. Two migrating at once would both fail.

    ValidationError where nothing can be written into the folder, or where others hold it for longer than that.
    """
    refuse_read_only_folder()
    until = time.monotonic() + patience_s
    with open(settings.DATA_DIR / STARTING, "ab") as held:
        while not _is_locked_by_us(held):
            if time.monotonic() > until:
                raise ValidationError(TAKEN)
            time.sleep(0.2)
        yield


def collect_for_this_start():
    """Static files as this version has them; ValidationError, with what to do, where they cannot be written."""
    try:
        with one_start_at_a_time():
            collect_static_files()
    except OSError as error:
        raise ValidationError(
            f"Style sheets and scripts could not be written into {settings.STATIC_ROOT}: {error.strerror}. Give your "
            "account the right to write there, or free some space on the disk, and start again."
        ) from error


def _is_locked_by_us(file):
    try:
        if os.name == "nt":
            import msvcrt

            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True
