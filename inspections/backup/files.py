"""The files that belong to the pool: all that lie in the kept folders of the data folder; links lead out of it.

What lies there otherwise is no file of the pool: the database, which has its own way, the secret key, files that wait
to be confirmed, and whatever somebody else put there.
"""

import contextlib
import hashlib
import os
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from django.conf import settings
from django.core.exceptions import ValidationError

from ..data_folder import COPIES, KEPT, STATIC, database_files, is_link, link_on_the_way, own_folder
from ..durable_files import sync_folder

FILES = "files/"
SHOWN = 10


def is_file_name(name):
    """Whether a member's name is a file in a folder of the data folder, one that a back-up may hold, or once might."""
    if not name.startswith(FILES) or set(name) & set("\\:\0"):
        return False
    folder, *rest = name.removeprefix(FILES).split("/")
    if folder.startswith(".") or folder.casefold() in (STATIC, COPIES):
        return False
    return bool(rest) and not {"", ".", ".."} & {folder, *rest}


def is_kept_name(name):
    """Whether a member is a file of the pool: older back-ups hold those of every folder that they found."""
    return is_file_name(name) and PurePosixPath(name).parts[1] in KEPT


def pool_files():
    """{member name: path} of all files that belong to the pool, in order of their names."""
    ours = set(_kept_paths()).difference(database_files())
    files = {_member(path): path for path in ours if path.is_file() and not is_link(path)}
    return dict(sorted((name, path) for name, path in files.items() if is_kept_name(name)))


def links_left_out():
    """The links in kept folders, and in place of them: nothing that they lead to is in a back-up."""
    return sorted(filter(is_link, [*map(own_folder, KEPT), *_kept_paths()]))


def _kept_paths():
    """All that lies in the kept folders; what a link leads to does not."""
    for top in map(own_folder, KEPT):
        for place, folders, names in os.walk(top) if not is_link(top) else ():
            yield from (Path(place, name) for name in (*folders, *names))
            folders[:] = [name for name in folders if not is_link(Path(place, name))]


def _member(path):
    return FILES + path.relative_to(settings.DATA_DIR).as_posix()


def _place(name):
    return settings.DATA_DIR.joinpath(*PurePosixPath(name).parts[1:])


def files_going(members):
    """{member name: path} of the pool's files that these members of a back-up remove or replace by other content."""
    return {name: path for name, path in pool_files().items() if not _is_same(path, members.get(name))}


def _is_same(path, stated):
    if stated is None or path.stat().st_size != stated["bytes"]:
        return False
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest() == stated["sha256"]


def listed_files(names):
    """Names of members for people: those of files as they lie in the data folder, the first few of many."""
    shown = ["".join(c if c.isprintable() else "?" for c in name.removeprefix(FILES)) for name in list(names)[:SHOWN]]
    more = len(names) - len(shown)
    return ", ".join(shown) + (f" and {more:,} more" if more else "")


def refuse_what_is_in_the_way(members):
    """ValidationError when a file of a back-up would be written through a link, or over what is no file of the pool."""
    ours = pool_files()
    for path in (_place(name) for name in members if name not in ours):
        if link := link_on_the_way(path):
            raise ValidationError(
                f"{link} is a link, and the pool's files are not written through links. Put a folder in its place, "
                "then restore. Nothing was restored."
            )
        if path.exists():
            raise ValidationError(
                f"{path} is in the way of a file of the back-up. Move it, then restore. Nothing was restored."
            )


@contextmanager
def swapping_files(members, folder):
    """Put the unpacked files of a back-up in place of the pool's own, around the swap of the database.

    New files are put in place before, files no longer needed are removed after: whichever database is in place when
    something stops half-way finds all its files.
    """
    wanted = {name: _place(name) for name in members}
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
    sync_folder(target.parent)


def _take_away(path):
    """The file, and the folders that are empty without it."""
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)
        for folder in path.parents:
            if folder == settings.DATA_DIR:
                return
            folder.rmdir()
