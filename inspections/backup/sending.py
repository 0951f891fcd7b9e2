"""A back-up made for a browser: it lies beside the pool until it is sent, and is noted once the last byte went out."""

import contextlib
import io
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings

from ..data_folder import SENDING
from .existing_backups import backups_folder
from .making import backup_notices, make_backup
from .newest import Backup, held_in, keep_note


class SentBackup(io.FileIO):
    """The whole pool in one file, to be read once; closing it takes the file away."""

    def __init__(self, folder, path, noted):
        super().__init__(path)
        self._folder, self._noted, self._size = folder, noted, path.stat().st_size

    def close(self):
        if self.closed:
            return
        whole = self.tell() == self._size
        super().close()
        self._folder.cleanup()
        if whole:
            _note(self._noted)


def open_new_backup(now):
    """(the SentBackup, sentences on what is not in it). ValidationError where it cannot be made."""
    folder = TemporaryDirectory(prefix=SENDING, dir=settings.DATA_DIR, ignore_cleanup_errors=True)
    path = Path(folder.name, "pool.zip")
    try:
        make_backup(path, now=now)
        notices = list(backup_notices(path))
        return SentBackup(folder, path, Backup(now.date(), None, False, held_in(path), downloaded=True)), notices
    except BaseException:
        folder.cleanup()
        raise


def _note(backup):
    with contextlib.suppress(OSError):
        backups_folder().mkdir(parents=True, exist_ok=True)
        keep_note(backup)
