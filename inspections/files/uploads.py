"""Files that came over the web and wait, under their hash, until somebody confirms them."""

import hashlib
import json
import os
import shutil
import zipfile
from dataclasses import dataclass
from pathlib import PurePosixPath

from django.core.exceptions import ValidationError

from fleet.intake import named, pick_files, short

from ..data_folder import WAITING, own_folder
from ..durable_files import put_durably, sync_folder, write_durably
from ..validators import check_size
from ..zip_entries import CHUNK, READ_IN_PIECES, UNREADABLE
from .own_names import own_sheets_among
from .sets import FILE_NAMES

MOST_ENTRIES = 200
# beside the files of a keeper, which have no names of their own here
OWN, NAMES = "own-", "own.json"
EXPIRED = "This upload has expired. Send the files again."


@dataclass(frozen=True)
class Stored:
    """What waits now: its hash, the names of files that were skipped, and whether it is sheets of the keeper's own."""

    file_hash: str
    skipped: list[str]
    is_own_sheets: bool = False


def store_upload(uploaded):
    """Store uploaded files, those of zips too, until they are confirmed; returns what is Stored.

    ValidationError when a name is unknown or comes twice, or a zip is broken, unsafe or too large when unpacked.
    """
    check_size(sum(file.size for file in uploaded))
    contents = []
    for file in uploaded:
        contents += _unzipped(file) if file.name.lower().endswith(".zip") else [(file.name, file.read())]
    check_size(sum(len(content) for _, content in contents))
    if sheets := own_sheets_among(contents):
        return Stored(_store(_for_waiting(sheets)), [name for name, _ in contents if name not in sheets], True)
    names = [name for name, _ in contents]
    picked, skipped = pick_files(names, FILE_NAMES)
    twice = sorted({name for name in picked if names.count(name) > 1})
    if twice:
        raise ValidationError(f"More than one file named {named(twice)}. Send each once.")
    return Stored(_store({name: content for name, content in contents if name in picked}), skipped)


def _for_waiting(sheets):
    """Nothing is written under a name that came from outside: the names stand in a file of their own."""
    kept = {f"{OWN}{place}": name for place, name in enumerate(sheets)}
    return {NAMES: json.dumps(kept).encode()} | {place: sheets[name] for place, name in kept.items()}


class InPieces:
    """A file that is read a piece at a time. A zip's list of files is read in one: a million names took 460 MB."""

    def __init__(self, file):
        self.name, self.seek, self.tell, self._read = file.name, file.seek, file.tell, file.read

    def seekable(self):
        return True

    def read(self, size=-1):
        if size > CHUNK:
            raise ValidationError(f"{self.name} names far more files than the {MOST_ENTRIES} allowed.")
        return self._read(size if size >= 0 else CHUNK)


def _unzipped(file):
    try:
        with zipfile.ZipFile(InPieces(file)) as archive:
            entries = [entry for entry in archive.infolist() if not entry.filename.endswith("/")]
            _check_entries(file.name, entries)
            return _read_entries(archive, entries)
    except UNREADABLE as error:
        raise ValidationError(f"{file.name} cannot be opened: the zip is damaged or has a password.") from error


def _check_entries(name, entries):
    """Nothing is ever written under a name from the zip; a path that leads elsewhere is refused all the same."""
    if len(entries) > MOST_ENTRIES:
        raise ValidationError(f"{name} holds {len(entries)} files, more than the {MOST_ENTRIES} allowed.")
    for entry in entries:
        path = _path_of(entry)
        if path.is_absolute() or ".." in path.parts or ":" in "".join(path.parts[:1]):
            raise ValidationError(f"{name} holds “{short(path)}”, a path that leads out of it. It was not opened.")
        if entry.compress_type not in READ_IN_PIECES:
            raise ValidationError(
                f"{name} holds “{short(path)}”, packed in a way that is not read here. Pack the files as a plain zip, "
                "or send them as they are."
            )


def _path_of(entry):
    return PurePosixPath(entry.filename.replace("\\", "/"))


def _read_entries(archive, entries):
    """What is read is counted: the sizes that a zip gives may be wrong."""
    contents, total = [], 0
    for entry in entries:
        path = _path_of(entry)
        if not path.name or path.parts[0] == "__MACOSX" or path.name.startswith("."):
            continue
        pieces = []
        with archive.open(entry) as stream:
            while piece := stream.read(CHUNK):
                total += len(piece)
                check_size(total)
                pieces.append(piece)
        contents.append((path.name, b"".join(pieces)))
    return contents


def _store(contents):
    digest = hashlib.sha256()
    for name, content in sorted(contents.items()):
        digest.update(f"{name}\0{len(content)}\0".encode())
        digest.update(content)
    folder = _folder(digest.hexdigest())
    if folder.exists():
        # they wait from now on
        os.utime(folder)
    else:
        # the folder appears whole or not at all: whoever sends the same files at the same time finds the same ones
        draft = folder.with_name(f"{folder.name}.{os.getpid()}.{os.urandom(4).hex()}")
        draft.mkdir(parents=True)
        try:
            _fill(draft, contents)
            draft.rename(folder)
        except OSError:
            shutil.rmtree(draft, ignore_errors=True)
            if not folder.exists():
                raise
        sync_folder(folder.parent)
    return digest.hexdigest()


def _fill(draft, contents):
    for name, content in contents.items():
        write_durably(draft / name, content)
    sync_folder(draft)


def _folder(file_hash):
    return own_folder(WAITING) / file_hash


def is_waiting(file_hash):
    """Whether files wait under this hash."""
    return len(file_hash) == 64 and not set(file_hash) - set("0123456789abcdef") and _folder(file_hash).is_dir()


def waiting_files(file_hash):
    """{file name: bytes} of Halfpower's own files that wait under this hash; None when nothing does."""
    if not is_waiting(file_hash):
        return None
    folder = _folder(file_hash)
    return {name: (folder / name).read_bytes() for name in FILE_NAMES if (folder / name).is_file()}


def has_own_sheets(file_hash):
    """Whether what waits came as sheets, under names of its own."""
    return (_folder(file_hash) / NAMES).is_file()


def waiting_sheets(file_hash):
    """{file name: bytes} of what waits under this hash, to be read as a keeper's own sheets; None: nothing does."""
    if not is_waiting(file_hash) or not has_own_sheets(file_hash):
        return waiting_files(file_hash)
    names = json.loads((_folder(file_hash) / NAMES).read_bytes())
    return {name: (_folder(file_hash) / place).read_bytes() for place, name in names.items()}


def read_beside(file_hash, name):
    """What `write_beside` wrote beside the files that wait; None where it wrote nothing."""
    if not is_waiting(file_hash):
        return None
    try:
        return json.loads((_folder(file_hash) / name).read_bytes())
    except FileNotFoundError:
        return None


def write_beside(file_hash, name, said):
    """Keep what was said of files that wait, as JSON, for as long as they do; ValidationError when they do no more."""
    if not is_waiting(file_hash):
        raise ValidationError(EXPIRED)
    put_durably(_folder(file_hash) / name, json.dumps(said).encode())


def discard(file_hash):
    """Delete files that wait to be confirmed."""
    if is_waiting(file_hash):
        shutil.rmtree(_folder(file_hash), ignore_errors=True)
