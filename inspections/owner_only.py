"""The pool's files are for their owner: whoever else has an account on this computer reads none of them.

Windows has no such rights, and there nothing happens.
"""

import contextlib
import os
import stat

from django.conf import settings

from .data_folder import database_files, is_own

OTHERS = stat.S_IRWXG | stat.S_IRWXO
OTHERS_WRITE = stat.S_IWGRP | stat.S_IWOTH
CLOSED = (
    "The pool's files in {folder} stood open to the other accounts of this computer. They are closed now: only their "
    "owner can read them. If somebody may have read them, give everybody a new password."
)
STILL_OPEN = (
    "{path} stands open to the other accounts of this computer, and that could not be changed. Start Halfpower as the "
    "owner of that file, or name a data folder on another disk with HALFPOWER_DATA."
)
WRITTEN_BY_OTHERS = (
    "Other accounts of this computer may put files into {folder} and take them away. It also holds what is not the "
    "pool's, so it was left as it is. Name a folder of the pool's own with HALFPOWER_DATA."
)


def keep_new_files():
    """Whatever this process makes from now on belongs to its owner only. Returns what the user asks of new files."""
    return os.umask(OTHERS) if os.name != "nt" else 0


@contextlib.contextmanager
def as_the_user_wants():
    """Files that somebody wants in a place of their own are theirs to share. No other thread may write meanwhile."""
    ours = os.umask(settings.USERS_UMASK)
    try:
        yield
    finally:
        os.umask(ours)


def close_files():
    """Close whatever of the pool stands open. Returns sentences on what was, and on what could not be closed."""
    if os.name == "nt" or not settings.DATA_DIR.is_dir():
        return []
    found = [*_of_the_data_folder(), *_of_the_database()]
    still_open = [path for path, is_closed in found if not is_closed]
    said = [CLOSED.format(folder=settings.DATA_DIR)] if len(still_open) < len(found) else []
    said += [STILL_OPEN.format(path=path) for path in still_open[:1]]
    return said + [WRITTEN_BY_OTHERS.format(folder=settings.DATA_DIR)] * (not still_open and _is_written_by_others())


def _of_the_data_folder():
    """(path, whether it is closed now) of all that stood open."""
    # the user names the folder, by a link if they like; one that cannot be read is told of by what needs it
    with contextlib.suppress(OSError), _opened(settings.DATA_DIR) as folder:
        names = os.listdir(folder)
        for name in filter(is_own, names):
            yield from _close(settings.DATA_DIR / name, folder)
        if all(map(is_own, names)):
            yield from _close_one(settings.DATA_DIR, folder)


def _of_the_database():
    """Where DATABASE_URL says that it lies elsewhere."""
    for path in database_files():
        if path.parent != settings.DATA_DIR:
            with contextlib.suppress(OSError), _opened(path.parent) as folder:
                yield from _close(path, folder)


def _close(path, folder):
    """The file or folder of that name in an open folder, with all in it; links are left alone.

    Files are not opened: to close one again takes the locks that SQLite holds on it in this process.
    """
    with contextlib.suppress(OSError):
        mode = os.stat(path.name, dir_fd=folder, follow_symlinks=False).st_mode
        if stat.S_ISREG(mode):
            yield from _close_one(path, path.name, dir_fd=folder)
        elif stat.S_ISDIR(mode):
            with _opened(path.name, dir_fd=folder, flags=os.O_NOFOLLOW) as inner:
                yield from _close_one(path, inner)
                for name in os.listdir(inner):
                    yield from _close(path / name, inner)


def _close_one(path, place, **within):
    mode = os.stat(place, **within).st_mode
    if mode & OTHERS:
        with contextlib.suppress(OSError):
            os.chmod(place, stat.S_IMODE(mode) & ~OTHERS, **within)
        # some disks keep no rights, and do not say so
        yield path, not os.stat(place, **within).st_mode & OTHERS


@contextlib.contextmanager
def _opened(path, *, flags=0, dir_fd=None):
    descriptor = os.open(path, os.O_RDONLY | os.O_DIRECTORY | flags, dir_fd=dir_fd)
    try:
        yield descriptor
    finally:
        os.close(descriptor)


def _is_written_by_others():
    mode = settings.DATA_DIR.stat().st_mode
    return bool(mode & OTHERS_WRITE) and not mode & stat.S_ISVTX
