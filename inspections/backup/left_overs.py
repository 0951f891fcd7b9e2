"""What killed runs and forgotten uploads leave behind: cleared by age, so that nothing is taken from one that runs."""

import contextlib

from django.conf import settings

from fleet.services.photos import KEPT_DAYS, forgotten_photos

from ..data_folder import (
    BESIDE,
    DAY_S,
    RANDOM,
    SENDING,
    UPDATING,
    WAITING,
    WAITING_DAYS,
    clear_folders,
    is_link,
    own_folder,
)
from ..sweeps.selectors import forgotten_sweeps
from .archive import DATABASES
from .existing_backups import backups_folder
from .files import pool_photos, pool_sweeps

UPLOAD = "[0-9a-f]{64}"
# a back-up that was sent, and its draft
SENT = r"back-up\..+"


def clear_left_overs(now):
    """At a start and once a day: unpacked back-ups, drafts of copies, uploads that nobody confirmed."""
    for prefix in (BESIDE, SENDING):
        clear_folders(settings.DATA_DIR, prefix + RANDOM, older_than_s=DAY_S, now=now)
    clear_drafts(backups_folder(), now)
    if not is_link(own_folder(WAITING)):
        clear_folders(own_folder(WAITING), UPLOAD, older_than_s=WAITING_DAYS * DAY_S, now=now)
        for name in (UPLOAD + r"\..+", SENT):
            clear_folders(own_folder(WAITING), name, older_than_s=DAY_S, now=now)


def clear_photos(now):
    """Of a database that is up to date: files that no fault names any more, long after they were written."""
    files = pool_photos()
    for sha256 in forgotten_photos(files, now):
        with contextlib.suppress(OSError):
            if now.timestamp() - files[sha256].stat().st_mtime >= KEPT_DAYS * DAY_S:
                files[sha256].unlink()


def clear_sweeps(now):
    """Of a database that is up to date: files that no sweep names, long after they were written."""
    files = pool_sweeps()
    for sha256 in forgotten_sweeps(files, now):
        with contextlib.suppress(OSError):
            if now.timestamp() - files[sha256].stat().st_mtime >= KEPT_DAYS * DAY_S:
                files[sha256].unlink()


def clear_restores(now):
    """What restores left unpacked, however new: only one runs at a time."""
    clear_folders(settings.DATA_DIR, BESIDE + RANDOM, older_than_s=float("-inf"), now=now)


def clear_updates(now):
    """What starts that were cut short left, however new: only one starts at a time."""
    clear_folders(settings.DATA_DIR, UPDATING + RANDOM, older_than_s=float("-inf"), now=now)


def clear_drafts(folder, now):
    """Drafts of back-ups in any folder, which may be somebody else's: known by what they hold."""
    clear_folders(folder, rf"\..+\.{RANDOM}", older_than_s=DAY_S, now=now, is_ours=_is_draft)


def _is_draft(folder):
    draft, _, _ = folder.name.removeprefix(".").rpartition(".")
    databases = {f"{name}{end}" for name in DATABASES.values() for end in ("", "-journal", "-wal", "-shm")}
    return {path.name for path in folder.iterdir()} <= {draft, *databases}
