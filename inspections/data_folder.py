"""The data folder: which folders in it are the app's own. What else lies there is somebody else's and is never touched.

Links are not followed: neither one in place of such a folder nor one inside it.
"""

import contextlib
import os
import re
import shutil
import stat
from pathlib import Path

from django.conf import settings
from django.db import connection

# Photos of faults, and raw files of instruments: what back-ups take and restores replace.
PHOTOS, SWEEPS = "photos", "sweeps"
KEPT = (SWEEPS, PHOTOS)
# Files that wait to be confirmed; back-ups; style sheets and scripts as they are served.
WAITING, COPIES, STATIC = "uploads", "copies", "static"
# Folders in which static files are collected, a restore unpacks, a start updates, and a back-up lies until a browser
# has it. Python adds letters to the last three names.
STATIC_DRAFT, BESIDE, UPDATING, SENDING = ".static", ".restore.", ".update.", ".sending."
RANDOM = "[a-z0-9_]{8}"
KEY, STARTING = "secret_key", "starting.lock"
# what SQLite puts beside its file; what killed tests leave
SQLITE_ENDS = ("", "-wal", "-shm", "-journal")
TESTS = rf"test_\d+\.sqlite3({'|'.join(SQLITE_ENDS)})"
OWN = re.compile(
    rf"{'|'.join((*KEPT, WAITING, COPIES, STATIC))}|{KEY}(\.\d+)?"
    rf"|{'|'.join(map(re.escape, (STARTING, STATIC_DRAFT)))}"
    rf"|({re.escape(BESIDE)}|{re.escape(UPDATING)}|{re.escape(SENDING)}){RANDOM}|{TESTS}"
)

WAITING_DAYS = 7
DAY_S = 24 * 3600


def own_folder(name):
    return settings.DATA_DIR / name


def is_own(name):
    """Whether the app made what has this name in the data folder."""
    return OWN.fullmatch(name) is not None or settings.DATA_DIR / name in database_files()


def database_files():
    """SQLite's file, perhaps in another folder, and those that it puts beside it; none of another database."""
    if connection.vendor != "sqlite":
        return []
    path = Path(connection.settings_dict["NAME"])
    return [path.with_name(f"{path.name}{end}") for end in SQLITE_ENDS]


def is_link(path):
    """Whether a path is a link, also a junction of Windows."""
    if not os.path.lexists(path):
        return False
    junction = getattr(stat, "IO_REPARSE_TAG_MOUNT_POINT", None)
    return path.is_symlink() or (junction is not None and path.lstat().st_reparse_tag == junction)


def link_on_the_way(path):
    """The first link between the data folder and a path in it, the path too; None where there is none."""
    below = [place for place in (path, *path.parents) if settings.DATA_DIR in place.parents]
    return next(filter(is_link, reversed(below)), None)


def clear_folders(parent, name, *, older_than_s, now, is_ours=lambda folder: True):
    """Delete the folders in `parent` whose whole name matches and that were last written to so long before `now`.

    Links are left alone; what cannot be read or deleted stays until the next time.
    """
    with contextlib.suppress(OSError):
        for folder in parent.iterdir():
            if not re.fullmatch(name, folder.name) or is_link(folder) or not folder.is_dir():
                continue
            if now.timestamp() - folder.stat().st_mtime >= older_than_s and is_ours(folder):
                shutil.rmtree(folder, ignore_errors=True)
