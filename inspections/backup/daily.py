"""One back-up a day beside the database, made while the app is in use; the last fourteen are kept.

So are fourteen more that are dated ahead: one cannot tell when they were really made.
"""

import contextlib
import logging
import shutil
import time
from threading import Thread

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import connection
from django.utils import timezone

from ..data_folder import PHOTOS
from ..storage_failures import storage_error_of
from .damage import note_damage
from .elsewhere import copy_elsewhere
from .existing_backups import DAILY, backups_folder, daily_backup_of, daily_backups_by
from .left_overs import clear_left_overs, clear_photos, clear_sweeps
from .making import backup_notices, make_backup

KEPT = 14
LOOK_EVERY_S = 3600
CLAIM = ".claim-"
log = logging.getLogger(__name__)
_look_again = {"at": float("-inf")}
_running = {}


def back_up_when_due(**_):
    """After a request: check once an hour, and make the back-up in a thread of its own, so that nobody waits for it."""
    if time.monotonic() >= _look_again["at"]:
        back_up_now()


def back_up_now():
    """Make the copies of this day that are missing, beside the request; False where that is switched off."""
    if settings.DAILY_BACKUP:
        _look_again["at"] = time.monotonic() + LOOK_EVERY_S
        _start(make_daily_backup, after=copy_elsewhere)
    return settings.DAILY_BACKUP


def _start(make, after=None):
    """A thread for each kind, and no second while the first runs: a disk that does not answer holds its own alone."""
    if make in _running and _running[make].is_alive():
        return
    _running[make] = Thread(target=_in_thread, args=[make, after], name="daily copy", daemon=True)
    _running[make].start()


def make_daily_backup(now):
    """Make the back-up of that day unless it exists or somebody is making it; returns its path or None."""
    target = daily_backup_of(now.date())
    backups_folder().mkdir(parents=True, exist_ok=True)
    if target.exists() or not _claim(now) or target.exists():
        return None
    # photos lie beside it, and none is ever changed: fourteen copies of each would fill the disk
    make_backup(target, now=now, leaving=[PHOTOS])
    for notice in backup_notices(target):
        log.warning(notice)
    _tidy(now)
    return target


def _claim(now):
    """True for one of all processes. A claim lasts an hour: one left by a dead process blocks nobody for long."""
    try:
        _claim_of(now).touch(exist_ok=False)
    except FileExistsError:
        return False
    return True


def _claim_of(now):
    return backups_folder() / f"{CLAIM}{now:%Y-%m-%d-%H}"


def _tidy(now):
    # a copy dated ahead by a clock that was wrong takes nobody's place, and a clock that is behind deletes none
    for copies in daily_backups_by(now.date()):
        for path in copies[:-KEPT]:
            path.unlink(missing_ok=True)
    for path in backups_folder().glob(f"{CLAIM}*"):
        if path != _claim_of(now):
            path.unlink(missing_ok=True)
    clear_left_overs(now)
    clear_photos(now)
    clear_sweeps(now)
    # drafts of back-ups that were cut short, not this day's: another process may be writing it
    for path in backups_folder().glob(f".{DAILY}*"):
        if not path.name.startswith(f".{daily_backup_of(now.date()).name}"):
            shutil.rmtree(path, ignore_errors=True)


def _in_thread(make, after):
    try:
        make(timezone.localtime())
    except ValidationError as error:
        if getattr(error, "code", None) == "damaged":
            note_damage()
        log.warning("No copy was made today: %s", " ".join(error.messages))
    except Exception as failure:
        error = storage_error_of(failure)
        log.warning("No copy was made today: %s", error.what if error else failure, exc_info=error is None)
    finally:
        with contextlib.suppress(Exception):
            connection.close()
        if after:
            _start(after)
