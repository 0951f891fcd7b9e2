"""Back-ups that a browser can restore: those that lie beside the database, and one that was sent and waits."""

import hashlib
import re
import shutil
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from django.core.exceptions import ValidationError
from django.utils import timezone

from ..data_folder import WAITING, is_link, own_folder
from ..durable_files import sync, sync_folder
from ..validators import TooLarge, check_size
from .existing_backups import DAILY, backups_folder
from .restoring import opened_to_restore

SENT, SENT_FILE = "back-up.", "pool.zip"
HASH = re.compile("[0-9a-f]{64}")
KINDS = {DAILY: "daily copy", "before-restore-": "before a restore", "before-update-": "before an update of the app"}
WITH_THE_COMMAND = "Restore it on the computer that runs the app: python3 manage.py restore FILE --replace"


class BackupTooLarge(TooLarge):
    """Refused before anything is kept."""

    sentence = f"This back-up is larger than {{limit_mb:g}} MB, so it was not read. {WITH_THE_COMMAND}"


@dataclass(frozen=True)
class Copy:
    """A back-up beside the database: `what` it was made for, in words, when it was written, and its size in MB."""

    name: str
    what: str
    written: datetime
    size_mb: float


def copies_here():
    """The newest first."""
    paths = [path for path in backups_folder().glob("*.zip") if path.is_file() and not is_link(path)]
    return sorted(map(_copy, paths), key=lambda copy: (copy.written, copy.name), reverse=True)


def _copy(path):
    what = next((words for start, words in KINDS.items() if path.name.startswith(start)), "put here by somebody")
    known = path.stat()
    written = datetime.fromtimestamp(known.st_mtime, tz=timezone.get_current_timezone())
    return Copy(path.name, what, written, known.st_size / 2**20)


def backup_called(name):
    """The path of a copy beside the database, or of a back-up that was sent, by its hash; None where there is none."""
    if HASH.fullmatch(name):
        path = _folder(name) / SENT_FILE
        return path if path.is_file() else None
    return next((backups_folder() / copy.name for copy in copies_here() if copy.name == name), None)


def was_sent(name):
    return HASH.fullmatch(name) is not None


def keep_sent(uploaded):
    """Keep a back-up that came over the web until it is restored; its hash. ValidationError where it is none, or does
    not fit this pool: nothing is kept then.
    """
    check_size(uploaded.size, BackupTooLarge)
    waiting = own_folder(WAITING)
    waiting.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory(prefix=f"{SENT}draft.", dir=waiting, ignore_cleanup_errors=True) as draft:
        path = Path(draft, SENT_FILE)
        sha256 = _write(uploaded, path)
        with named_as("The file", path), opened_to_restore(path):
            pass
        folder = _folder(sha256)
        folder.mkdir(exist_ok=True)
        path.replace(folder / SENT_FILE)
        sync_folder(folder)
    return sha256


def _write(uploaded, path):
    digest = hashlib.sha256()
    with path.open("xb") as stream:
        for piece in uploaded.chunks():
            digest.update(piece)
            stream.write(piece)
        sync(stream)
    return digest.hexdigest()


class named_as:
    """Refusals name the file as the person knows it, not by where it lies here."""

    def __init__(self, words, path):
        self._words, self._path = words, str(path)

    def __enter__(self):
        return self

    def __exit__(self, kind, refusal, trace):
        if isinstance(refusal, ValidationError):
            raise ValidationError(
                [message.replace(self._path, self._words) for message in refusal.messages]
            ) from refusal


def discard_sent(name):
    """Delete a back-up that was sent; copies beside the database stay."""
    if was_sent(name):
        shutil.rmtree(_folder(name), ignore_errors=True)


def _folder(sha256):
    return own_folder(WAITING) / f"{SENT}{sha256}"
