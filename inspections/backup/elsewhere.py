"""Daily copies in a folder elsewhere, on a stick or a share: where it is, and how the last tries went.

The folder is of this computer and not of the pool, so a file beside the copies names it, and no restore changes it. A
file in the folder itself tells it from the empty place at which a disk appears once it is connected.
"""

import contextlib
import json
import logging
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.selectors.pool import pool_uid

from ..durable_files import put_durably
from ..storage_failures import storage_error_of
from .archive import opened
from .existing_backups import backups_folder, parsed_day
from .making import backup_notices, make_backup, note_backup
from .newest import on_the_pools_disk

# whole copies with all photos, unlike those beside the database
KEPT = 7
STATE, MARK = "elsewhere.json", "halfpower-copies.txt"
MARK_TEXT = (
    "Halfpower puts a copy of a pool into this folder every day. Leave this file here: without it nothing is written, "
    "because this may not be the disk that was meant.\n"
)
# of a copy that began and did not end by then, nobody hears any more
TOO_LONG = timedelta(hours=2)
log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Elsewhere:
    """The folder, and when a copy was last tried, made and not made, with the reason in sentences."""

    folder: str
    tried_at: datetime | None = None
    made_at: datetime | None = None
    size_bytes: int = 0
    failed_at: datetime | None = None
    why: str = ""

    @property
    def place(self):
        return Path(self.folder)

    @property
    def on_the_pools_disk(self):
        return on_the_pools_disk(self.place)

    @property
    def has_failed(self):
        """The last try that ended made no copy."""
        return self.failed_at is not None and (self.made_at is None or self.made_at < self.failed_at)

    def has_stopped(self, now):
        """The last try never ended: the app was stopped in its midst, or the disk does not answer."""
        ended = max(filter(None, (self.made_at, self.failed_at)), default=None)
        began = self.tried_at
        return began is not None and (ended is None or ended < began) and now - began > TOO_LONG

    @property
    def made_on(self):
        return self.made_at and timezone.localtime(self.made_at).date()


def elsewhere():
    """The Elsewhere in use; None where no folder is named, or anybody wrote something else into the file."""
    with contextlib.suppress(OSError, ValueError, TypeError, KeyError):
        stated = json.loads(_state().read_text(encoding="utf-8"))
        moments = ("tried_at", "made_at", "failed_at")
        read = {name: stated[name] and datetime.fromisoformat(stated[name]) for name in moments}
        known = Elsewhere(**stated | read)
        return known if isinstance(known.folder, str) else None
    return None


def name_folder(text):
    """Put daily copies into this folder from now on. ValidationError where that cannot be."""
    folder = Path(text)
    _refuse_folder(folder)
    try:
        if not (folder / MARK).exists():
            put_durably(folder / MARK, MARK_TEXT.encode())
        backups_folder().mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ValidationError({"folder": f"Nothing can be written into {folder}: {error.strerror}."}) from error
    known = elsewhere()
    if known is None or known.folder != str(folder):
        _keep(Elsewhere(str(folder)))
    return str(folder)


def forget_folder():
    """Put no copies elsewhere any more; those that lie there stay."""
    _state().unlink(missing_ok=True)


def _refuse_folder(folder):
    if not folder.is_absolute():
        raise ValidationError({"folder": "Write the whole path, from the beginning, such as /media/stick/pool."})
    try:
        is_there = folder.is_dir()
    except OSError:
        is_there = False
    if not is_there:
        raise ValidationError({"folder": f"There is no folder {folder} on this computer. Make it or connect its disk."})
    data, place = settings.DATA_DIR.resolve(), folder.resolve()
    if place == data or data in place.parents:
        raise ValidationError({"folder": f"{folder} lies in the data folder: what takes the pool takes it, too."})


def try_again():
    """Do not wait for the hour to be over."""
    if known := elsewhere():
        _keep(replace(known, tried_at=None))


def copy_elsewhere(now):
    """Put the copy of that day into the folder elsewhere; its path, None where there is nothing to do.

    Tried once an hour. What goes wrong is kept for the pages and said to the log.
    """
    known = elsewhere()
    if known is None or known.made_on == now.date() or not _is_due(known, now):
        return None
    known = replace(known, tried_at=now)
    _keep(known)
    try:
        path = _copy(known.place, now)
    except Exception as failure:
        why = _said(failure)
        _keep(replace(known, failed_at=now, why=why))
        log.warning("No copy was made elsewhere: %s", why, exc_info=not isinstance(failure, ValidationError))
        return None
    _keep(replace(known, made_at=now, size_bytes=path.stat().st_size))
    return path


def _is_due(known, now):
    # one dated ahead was begun by a clock that was wrong
    return known.tried_at is None or not timedelta(0) <= now - known.tried_at < timedelta(minutes=50)


def _copy(folder, now):
    _refuse_folder(folder)
    if not (folder / MARK).is_file():
        raise ValidationError(
            f"{folder} is not the folder that was named: the file {MARK} is missing. Connect its disk, or name the "
            "folder again."
        )
    start = f"halfpower-{str(pool_uid())[:8]}-"
    path = folder / f"{start}{now.date().isoformat()}.zip"
    if not _is_backup(path):
        _make(path, now)
    note_backup(path, now.date())
    _tidy(folder, start, now.date())
    return path


def _make(path, now):
    if path.is_file() and path.stat().st_size == 0:
        # on a disk where a file has one name only, a copy that was cut short leaves its name
        path.unlink()
    try:
        make_backup(path, now=now)
    except ValidationError:
        # another process may have been quicker
        if not _is_backup(path):
            raise
    for notice in backup_notices(path):
        log.warning(notice)


def _is_backup(path):
    with contextlib.suppress(ValidationError), opened(path):
        return True
    return False


def _tidy(folder, start, day):
    """Of this pool alone, and of those dated ahead by a clock that was wrong none."""
    dated = {path: parsed_day(path.stem.removeprefix(start)) for path in folder.glob(f"{start}*.zip")}
    past = sorted(path for path, made_on in dated.items() if made_on and made_on <= day)
    for path in past[:-KEPT]:
        path.unlink(missing_ok=True)


def _said(failure):
    if isinstance(failure, ValidationError):
        return " ".join(failure.messages)
    error = storage_error_of(failure)
    return error.what if error else f"{type(failure).__name__}: {failure}"[:300]


def _state():
    return backups_folder() / STATE


def _keep(known):
    stated = asdict(known)
    written = {name: value.isoformat() if isinstance(value, datetime) else value for name, value in stated.items()}
    put_durably(_state(), json.dumps(written, indent=1).encode())
