"""The files that belong to the pool: all that lie in folders of the data folder, whichever part of the app put them.

What lies in the data folder itself is no file of the pool: the database, which has its own way, and the secret key.
"""

import contextlib
import os
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from django.conf import settings
from django.db import connection

FILES = "files/"
NOT_BACKED_UP = ("static", "copies")


def is_kept_name(name):
    """Whether a member's name is a file in a folder of the data folder, one that belongs to the pool."""
    if not name.startswith(FILES) or set(name) & set("\\:\0"):
        return False
    parts = name.removeprefix(FILES).split("/")
    return len(parts) > 1 and not {"", ".", ".."} & set(parts) and _is_kept_folder(parts[0])


def _is_kept_folder(name):
    return not name.startswith(".") and name.casefold() not in NOT_BACKED_UP


def pool_files():
    """{member name: path} of all files that belong to the pool, in order of their names."""
    found = {}
    for folder in _folders(settings.DATA_DIR):
        for place, _, names in os.walk(folder):
            for name in names:
                path = Path(place, name)
                member = FILES + path.relative_to(settings.DATA_DIR).as_posix()
                if is_kept_name(member) and path.is_file() and not _is_database(path):
                    found[member] = path
    return dict(sorted(found.items()))


def _folders(data_dir):
    return [path for path in data_dir.iterdir() if path.is_dir() and _is_kept_folder(path.name)]


def _is_database(path):
    name = str(connection.settings_dict["NAME"])
    return str(path) in (name, f"{name}-wal", f"{name}-shm", f"{name}-journal")


@contextmanager
def swapping_files(members, folder):
    """Put the unpacked files of a back-up in place of the pool's own, around the swap of the database.

    New files are put in place before, files no longer needed are removed after: whichever database is in place when
    something stops half-way finds all its files.
    """
    wanted = {
        name: settings.DATA_DIR.joinpath(*PurePosixPath(name).parts[1:]) for name in members if is_kept_name(name)
    }
    before = pool_files()
    new = [name for name in wanted if name not in before]
    try:
        for name in new:
            _move(folder / name, wanted[name])
        yield
    except BaseException:
        for name in new:
            _take_away(wanted[name])
        raise
    for name in wanted.keys() & before.keys():
        _move(folder / name, wanted[name])
    for name in before.keys() - wanted.keys():
        _take_away(before[name])


def _move(source, target):
    target.parent.mkdir(parents=True, exist_ok=True)
    os.replace(source, target)


def _take_away(path):
    """The file, and the folders that are empty without it."""
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)
        for folder in path.parents:
            if folder == settings.DATA_DIR:
                return
            folder.rmdir()
