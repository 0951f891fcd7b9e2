"""The back-up file: a zip whose last member, the manifest, names the others with their sizes and checksums.

The manifest comes last because only then the checksums are known.
"""

import errno
import hashlib
import json
import os
import re
import shutil
import struct
import zipfile
import zlib
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from datetime import datetime

from django.core.exceptions import ValidationError

from ..data_folder import KEPT
from ..durable_files import sync
from ..zip_entries import zip_entry
from .files import in_the_data_folder, is_file_name, is_kept_name, is_left, is_photo, is_whole
from .records import Held

# 2: it may say what the pool held; 3: it may leave folders as they are
FORMAT = 3
MANIFEST = "manifest.json"
DATABASES = {"sqlite": "database.sqlite3", "postgresql": "database.pgdump"}
CHUNK = 1 << 20
MANIFEST_LIMIT_BYTES = 64 << 20
# Ours unpack to some ten times their size; far above that somebody made a file to fill the disk.
UNPACKED_LIMIT = 200
UNPACKED_ALWAYS_BYTES = 64 << 20
OURS = {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}
UNREADABLE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, struct.error)


@dataclass(frozen=True)
class Manifest:
    """What a back-up says about itself.

    `migrations` are [app, name]; `members` {name: {"bytes": …, "sha256": …}}; `held` what the pool held in short, see
    `records.Held`: None in back-ups of older versions, and of older tables. `leaving` names folders of the pool that
    are not in it, and that a restore leaves as they are.
    """

    made_at: str
    database: str
    migrations: list
    members: dict = field(default_factory=dict)
    format: int = FORMAT
    held: dict | None = None
    leaving: list = field(default_factory=list)

    def __post_init__(self):
        """ValueError or TypeError when it is not what we write, to the type."""
        if datetime.fromisoformat(self.made_at).tzinfo is None:
            raise ValueError("no time zone")
        if self.database not in DATABASES or type(self.format) is not int or not 1 <= self.format <= FORMAT:
            raise ValueError("no kind of database, or no format")
        if not isinstance(self.migrations, list) or not all(map(_is_migration, self.migrations)):
            raise ValueError("no list of migrations")
        if not isinstance(self.members, dict) or not all(map(_is_stated, self.members.values())):
            raise ValueError("no members")
        if not isinstance(self.leaving, list) or not all(folder in KEPT for folder in self.leaving):
            raise ValueError("no folders of a pool")
        if self.held is not None:
            Held.read(self.held)

    @property
    def made(self):
        return datetime.fromisoformat(self.made_at)

    @property
    def database_member(self):
        return DATABASES[self.database]


def _unpacked_bytes(members):
    return sum(stated["bytes"] for stated in members.values())


def _is_migration(pair):
    return isinstance(pair, list) and len(pair) == 2 and all(isinstance(word, str) for word in pair)


def _is_stated(member):
    return (
        isinstance(member, dict)
        and member.keys() == {"bytes", "sha256"}
        and type(member["bytes"]) is int
        and member["bytes"] >= 0
        and isinstance(member["sha256"], str)
        and re.fullmatch("[0-9a-f]{64}", member["sha256"]) is not None
    )


def write_archive(path, manifest, members):
    """Write (name, source path) pairs and their manifest; a source that is gone by then is left out."""
    written = {}
    # accounts and their password hashes are inside: nobody else on the machine reads it
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0), 0o600)
    with open(descriptor, "wb") as stream:
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, source in members:
                try:
                    raw = source.open("rb")
                except FileNotFoundError:
                    continue
                with raw, archive.open(zip_entry(name, deflated=not is_photo(name)), "w", force_zip64=True) as member:
                    written[name] = _copy(raw, member)
            archive.writestr(zip_entry(MANIFEST), json.dumps(asdict(manifest) | {"members": written}, indent=1))
        sync(stream)


def _copy(source, target, limit_bytes=None):
    """Copy a stream; returns its size and checksum. ValueError above the limit."""
    digest, size = hashlib.sha256(), 0
    while piece := source.read(CHUNK):
        size += len(piece)
        if limit_bytes is not None and size > limit_bytes:
            raise ValueError("more than the manifest says")
        digest.update(piece)
        target.write(piece)
    return {"bytes": size, "sha256": digest.hexdigest()}


@contextmanager
def opened(path):
    """The back-up at a path; ValidationError when it is none, is cut off, damaged or unsafe."""
    try:
        stream = path.open("rb")
    except OSError as error:
        raise ValidationError(f"{path} cannot be read: {error.strerror}.") from error
    with stream:
        yield Archive(path, stream)


class Archive:
    """A back-up whose manifest has been read; its members are checked as they are unpacked."""

    def __init__(self, path, stream):
        self.path = path
        self._is_zip = stream.read(4) == b"PK\x03\x04"
        with self._refusing():
            self._zip = zipfile.ZipFile(stream)
            if {member.compress_type for member in self._zip.infolist()} - OURS:
                raise ValueError("packed in a way that is not ours")
            self.manifest = self._read_manifest()
        self._check_names()
        self._check_size()

    @property
    def kept(self):
        """{name: what is stated} of the files in it that belong to a pool, and are what their names say."""
        members = self.manifest.members.items()
        return {name: stated for name, stated in members if is_kept_name(name) and is_whole(name, stated)}

    @property
    def damaged_photos(self):
        """Names of photos in it that are not what their names say: they were damaged before it was made."""
        return [name for name, stated in self.manifest.members.items() if not is_whole(name, stated)]

    @property
    def left_out(self):
        """Names of the files in it that are no part of a pool: older versions took every folder that they found."""
        return [name for name in self.manifest.members if is_file_name(name) and not is_kept_name(name)]

    @property
    def restored(self):
        """{name: what is stated} of the members that a restore takes: the database and the files of the pool."""
        database = self.manifest.database_member
        return {database: self.manifest.members[database]} | self.kept

    def unpack(self, folder, *, only_database=False):
        """Write the members that are restored below a folder, each checked by its checksum."""
        for name, stated in self.restored.items():
            if only_database and name != self.manifest.database_member:
                continue
            target = folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            with self._refusing(name), self._zip.open(name) as member, target.open("xb") as stream:
                if _copy(member, stream, limit_bytes=stated["bytes"]) != stated:
                    raise ValueError("not what the manifest says")
                sync(stream)

    def _read_manifest(self):
        if MANIFEST not in self._zip.namelist():
            self._refuse("is not a back-up of a pool")
        with self._zip.open(MANIFEST) as stream:
            text = stream.read(MANIFEST_LIMIT_BYTES + 1)
        if len(text) > MANIFEST_LIMIT_BYTES:
            self._refuse("is not a back-up of a pool")
        stated = json.loads(text)
        if isinstance(stated, dict) and isinstance(stated.get("format"), int) and stated["format"] > FORMAT:
            self._refuse("was made by a newer version of this app. Update the app, then restore it")
        try:
            return Manifest(**stated)
        except TypeError as error:
            raise ValueError("not a manifest of ours") from error

    def _check_names(self):
        """Nothing unpacks to a place that is not the pool's, and nothing is in it that the manifest does not name."""
        names, manifest = self._zip.namelist(), self.manifest
        for name in names:
            if name not in (MANIFEST, manifest.database_member) and not is_file_name(name):
                self._refuse(f"holds “{name}”, which leads to a place where no file of a pool belongs")
        stated = sorted([*manifest.members, MANIFEST])
        left = [name for name in names if is_left(name, manifest.leaving)]
        if left or sorted(names) != stated or manifest.database_member not in names:
            self._refuse("holds other files than it says")

    def _check_size(self):
        needed, held = _unpacked_bytes(self.manifest.members), self.path.stat().st_size
        if needed > max(UNPACKED_ALWAYS_BYTES, UNPACKED_LIMIT * held):
            self._refuse(f"says that it unpacks to {needed / 2**20:,.0f} MB, more than a back-up of its size can hold")

    def check_room(self, folder):
        """ValidationError when a folder's disk cannot take what is inside: unpacked, kept of the old, and in place."""
        needed, free = 3 * _unpacked_bytes(self.restored), shutil.disk_usage(folder).free
        if needed > free:
            self._refuse(
                f"needs {needed / 2**20:,.1f} MB to unpack; the disk of {folder} has {free / 2**20:,.1f} MB left"
            )

    def _refuse(self, said):
        raise ValidationError(f"{self.path} {said}. Nothing was restored.")

    @contextmanager
    def _refusing(self, name=""):
        """`name`: of the member that is read."""
        try:
            yield
        except UNREADABLE as error:
            said = "is cut off or damaged" if self._is_zip else "is not a back-up of a pool"
            where = f" at {in_the_data_folder(name)}" if name else ""
            raise ValidationError(f"{self.path} {said}{where}. Nothing was restored.") from error
        except OSError as error:
            # a damaged offset sends the reader to a place before the file's beginning; a full disk is another matter
            if error.errno != errno.EINVAL:
                raise
            raise ValidationError(f"{self.path} is cut off or damaged. Nothing was restored.") from error
