"""Sweep files that were dropped and wait, each by itself, until somebody says which cable each is of.

They lie in the waiting folder, one folder a person and drop, and go by age. Nothing is stored of them before.
"""

import json
import os
import re
import secrets
import shutil
from dataclasses import asdict, dataclass
from functools import partial
from hashlib import sha256

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction

from ..assessment.policy_in_force import current_policy
from ..data_folder import WAITING, is_link, own_folder
from ..durable_files import put_durably
from ..models.sweeps import FILE_NAME_LENGTH
from ..numeric.sweeps.lines import MOST_BYTES
from ..numeric.sweeps.records import SweepRefused, seen
from .reading_services import Look, look_at

MOST_FILES = 200
TOO_MANY = f"At most {MOST_FILES} files go together. Say first which cables these are of, then drop the others."
_DROP = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True)
class Waiting:
    """A file that waits under its `key`; `look` None: it was refused, for the reason in `refusal`."""

    key: str
    name: str
    size: int
    sha256: str
    look: Look | None
    refusal: str = ""


def new_drop():
    """The name of a drop that nobody guesses."""
    return secrets.token_hex(16)


def wait_for_cable(file, drop, *, by):
    """Look at one uploaded file and let it wait. The same file dropped twice waits once. Returns its Waiting."""
    folder = _folder(drop, by)
    content = file.read(MOST_BYTES + 1)
    name = plain_name(file.name)
    waiting = _looked_at(name, content)
    path = folder / waiting.key
    if path.is_file():
        os.utime(folder)
        return waiting
    folder.mkdir(parents=True, exist_ok=True)
    _check_room(folder, len(content))
    head = json.dumps(asdict(waiting)).encode() + b"\n"
    put_durably(path, head + (content if waiting.look else b""))
    return waiting


def waiting_files(drop, *, by):
    """All Waiting of a drop in order of their names; none where it is unknown, confirmed, or cleared by age."""
    paths = sorted(_paths(_folder(drop, by)))
    files = [_read_head(path) for path in paths]
    return sorted(filter(None, files), key=lambda waiting: (_in_order(waiting.name), waiting.key))


def content_of(drop, waiting, *, by):
    """The bytes of a file that waits; ValidationError where it was cleared meanwhile."""
    try:
        _head, _, content = (_folder(drop, by) / waiting.key).read_bytes().partition(b"\n")
    except OSError as error:
        raise ValidationError(f"{waiting.name} waits no longer. Drop it again.") from error
    if sha256(content).hexdigest() != waiting.sha256:
        raise ValidationError(
            f"{waiting.name} is not what was dropped: its disk, or somebody, changed it. Drop it again."
        )
    return content


def discard_when_kept(drop, *, by):
    """Forget files that wait, once the transaction that kept them is in the database."""
    transaction.on_commit(partial(shutil.rmtree, _folder(drop, by), ignore_errors=True))


def is_drop(drop):
    """Whether this can be the name of a drop."""
    return _DROP.fullmatch(drop or "") is not None


def plain_name(name):
    """The last part of a file's name, without what no eye sees; short enough to be kept."""
    last = " ".join(seen(re.split(r"[\\/]", name or "")[-1]).split())
    return last[-FILE_NAME_LENGTH:].strip() or "sweep"


def _looked_at(name, content):
    whole = sha256(content).hexdigest()
    key = sha256(f"{name}\0{whole}".encode()).hexdigest()[:32]
    try:
        return Waiting(key, name, len(content), whole, look_at(content, current_policy().value("reference_mhz")))
    except SweepRefused as refusal:
        return Waiting(key, name, len(content), whole, None, refusal.sentence(name))


def _check_room(folder, size):
    paths = _paths(folder)
    if len(paths) >= MOST_FILES:
        raise ValidationError(TOO_MANY)
    if size + sum(path.stat().st_size for path in paths) > settings.UPLOAD_LIMIT_BYTES:
        limit_mb = settings.UPLOAD_LIMIT_BYTES / 2**20
        raise ValidationError(f"These files are larger than {limit_mb:g} MB together. Drop them in two lots.")


def _folder(drop, by):
    """Nobody else finds it: its name holds who dropped the files."""
    return own_folder(WAITING) / sha256(f"sweeps:{by.pk}:{drop}".encode()).hexdigest()


def _paths(folder):
    if is_link(folder) or not folder.is_dir():
        return []
    # others of the same drop are being written beside it, under names that are about to go
    return [path for path in folder.iterdir() if not path.name.startswith(".")]


def _read_head(path):
    """The Waiting of a file; None where another version of the app let it wait, or it is cut off."""
    try:
        with path.open("rb") as opened:
            head = json.loads(opened.readline())
        look = head.pop("look")
        return Waiting(**head, look=look and Look(**look | {"warnings": tuple(look["warnings"])}))
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return None


def _in_order(name):
    """`cable 2` before `cable 10`."""
    return [(part.isdigit(), int(part) if part.isdigit() else 0, part) for part in re.split(r"([0-9]{1,9})", name)]
