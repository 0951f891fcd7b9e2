"""The files that belong to the pool: all that lie in the kept folders of the data folder; links lead out of it.

What lies there otherwise is no file of the pool: the database, which has its own way, the secret key, files that wait
to be confirmed, and whatever somebody else put there.
"""

import contextlib
import hashlib
import os
import re
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from django.conf import settings
from django.core.exceptions import ValidationError

from fleet.selectors.photos import missing_pictures

from ..data_folder import COPIES, KEPT, PHOTOS, STATIC, SWEEPS, database_files, is_link, link_on_the_way, own_folder
from ..durable_files import sync_folder
from ..sweeps.selectors import named_files

FILES = "files/"
SWEEP = re.compile(rf"{FILES}{SWEEPS}/([0-9a-f]{{2}})/(\1[0-9a-f]{{62}})")
PHOTO = re.compile(rf"{FILES}{PHOTOS}/([0-9a-f]{{2}})/(\1[0-9a-f]{{62}})\.jpg")
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
    """Whether a member is a file of the pool: older back-ups hold those of every folder that they found.

    Among the photos only what is named as the app names them: the folder is called as somebody may have called theirs.
    """
    if not is_file_name(name) or _folder(name) not in KEPT:
        return False
    return _folder(name) != PHOTOS or is_photo(name)


def is_photo(name):
    """Whether a member is called as a photo is: by the hash of what is in it."""
    return PHOTO.fullmatch(name) is not None


def is_whole(name, stated):
    """False of a photo that is not what its name says: its disk, or somebody, changed it."""
    photo = PHOTO.fullmatch(name)
    return photo is None or photo[2] == stated["sha256"]


def _folder(name):
    return PurePosixPath(name).parts[1]


def pool_files(leaving=()):
    """{member name: path} of all files that belong to the pool, but for those folders, in order of their names."""
    ours = set(_kept_paths()).difference(database_files())
    files = {_member(path): path for path in ours if path.is_file() and not is_link(path)}
    wanted = (name for name in files if is_kept_name(name) and not is_left(name, leaving))
    return {name: files[name] for name in sorted(wanted)}


def pool_photos():
    """{hash: path} of the photos that lie in the data folder, whether or not anything names them."""
    return {photo[2]: path for name, path in pool_files().items() if (photo := PHOTO.fullmatch(name))}


def pool_sweeps():
    """{hash: path} of the sweep files that lie in the data folder under a name of ours."""
    return {sweep[2]: path for name, path in pool_files().items() if (sweep := SWEEP.fullmatch(name))}


def is_left(name, leaving):
    """Whether a member would lie in one of these folders."""
    return is_file_name(name) and _folder(name) in leaving


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


def files_going(members, leaving=()):
    """{member name: path} of the pool's files that these members of a back-up remove or replace by other content.

    `leaving`: folders that the back-up leaves as they are.
    """
    return {name: path for name, path in pool_files(leaving).items() if not _is_same(path, members.get(name))}


def _is_same(path, stated):
    if stated is None or path.stat().st_size != stated["bytes"]:
        return False
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest() == stated["sha256"]


def in_the_data_folder(name):
    """A member as it lies there, in letters that can be read."""
    return "".join(c if c.isprintable() else "?" for c in name.removeprefix(FILES))


def listed_files(names):
    """Names of members for people: those of files as they lie in the data folder, the first few of many.

    Photos and sweep files are counted where they are called by their hash: nobody knows one by that.
    """
    kinds = {"photo": is_photo, "sweep file": SWEEP.fullmatch}
    counts = {words: sum(bool(is_it(name)) for name in names) for words, is_it in kinds.items()}
    counted = [f"{count:,} {words}{'s' if count > 1 else ''}" for words, count in counts.items() if count]
    others = [name for name in names if not any(is_it(name) for is_it in kinds.values())]
    return ", ".join([*counted, *([first_few(others)] if others else [])])


def first_few(names):
    """Each by its own name, also photos: for those of which something is wrong."""
    shown = ", ".join(in_the_data_folder(name) for name in list(names)[:SHOWN])
    return shown + (f" and {len(names) - SHOWN:,} more" if len(names) > SHOWN else "")


def missing_photos():
    """Names of members of the photos that faults name and that are not there."""
    return [f"{FILES}{PHOTOS}/{sha256[:2]}/{sha256}.jpg" for sha256 in missing_pictures()]


def missing_sweeps():
    """Names of members of the files that kept sweeps name and that are not there."""
    there = pool_sweeps()
    return [f"{FILES}{SWEEPS}/{sha256[:2]}/{sha256}" for sha256 in named_files() if sha256 not in there]


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
def swapping_files(members, folder, leaving=()):
    """Put the unpacked files of a back-up in place of the pool's own, around the swap of the database.

    `leaving`: folders that the back-up leaves as they are.

    New files are put in place before, files no longer needed are removed after: whichever database is in place when
    something stops half-way finds all its files.
    """
    wanted = {name: _place(name) for name in members}
    before = pool_files(leaving)
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
