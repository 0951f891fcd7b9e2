"""The newest back-up of all, for the first page: how old it is, where it lies and how far it goes."""

import contextlib
import json
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path

from django.core.exceptions import ValidationError
from django.db import connection

from .archive import opened
from .existing_backups import backups_folder, daily_backups_by, day_of, parsed_day
from .records import Held

# The last back-up that went elsewhere; older versions wrote its day alone.
NOTE = "backed-up-on.txt"


@dataclass(frozen=True)
class Backup:
    """A back-up as the first page tells of it; `folder` and `held` are None where nobody noted them.

    `downloaded`: a browser has it, and nobody knows where it lies.
    """

    made_on: date
    folder: Path | None
    on_the_pools_disk: bool
    held: Held | None
    downloaded: bool = False


def newest_backup(on):
    """The newest Backup, daily or other, that is not dated ahead; None where there is none."""
    daily, noted = daily_backups_by(on)[0], _noted()
    # of two of one day, the one that somebody made and put elsewhere is the later
    if noted and noted.made_on <= on and not (daily and day_of(daily[-1]) > noted.made_on):
        return noted
    return _daily_backup(daily[-1]) if daily else None


def newest_backup_ahead(on):
    """The last day after `on` that a back-up is dated; None as it should be. Then the clock was wrong, or is."""
    noted = _noted()
    days = [day_of(path) for path in daily_backups_by(on)[1]] + ([noted.made_on] if noted else [])
    return max((day for day in days if day > on), default=None)


def _daily_backup(path):
    return Backup(day_of(path), path.parent, on_the_pools_disk(path.parent), held_in(path))


def on_the_pools_disk(folder):
    """Whether one broken disk would take both. False where nobody knows: PostgreSQL may be anywhere."""
    if connection.vendor == "sqlite":
        with contextlib.suppress(OSError):
            return folder.stat().st_dev == Path(connection.settings_dict["NAME"]).stat().st_dev
    return False


def held_in(path):
    """What the pool held when it was copied; None where the copy does not say, or cannot be read."""
    with contextlib.suppress(OSError):
        return _held_in(path, path.stat().st_mtime_ns)
    return None


@lru_cache(maxsize=4)
def _held_in(path, written_at_ns):
    """Read once, and again when another file has taken its place."""
    with contextlib.suppress(ValidationError), opened(path) as archive:
        return archive.manifest.held and Held.read(archive.manifest.held)
    return None


def keep_note(backup):
    stated = {
        "made_on": backup.made_on.isoformat(),
        "folder": backup.folder and str(backup.folder),
        "on_the_pools_disk": backup.on_the_pools_disk,
        "held": backup.held and backup.held.written(),
        "downloaded": backup.downloaded,
    }
    (backups_folder() / NOTE).write_text(json.dumps(stated), encoding="ascii")


def _noted():
    """The Backup in the note; None where there is no note, or anybody wrote something else into it."""
    with contextlib.suppress(OSError, ValueError):
        text = (backups_folder() / NOTE).read_text(encoding="ascii").strip()
        if day := parsed_day(text):
            return Backup(day, None, False, None)
        match json.loads(text):
            case {"made_on": str(day), "folder": str() | None as folder, "on_the_pools_disk": bool(same), "held": held}:
                held, downloaded = held and Held.read(held), json.loads(text).get("downloaded") is True
                return Backup(date.fromisoformat(day), folder and Path(folder), same, held, downloaded)
    return None
