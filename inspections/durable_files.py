"""Files that are still there after a power cut: content and name are on the disk before anything speaks of them."""

import errno
import os
import secrets
from contextlib import suppress

# what a folder on some network disks answers, which keep names in a way of their own
NOT_POSSIBLE = (errno.EINVAL, errno.ENOTSUP)


def write_durably(path, content, mode=0o666):
    """Write bytes to a new file. Its name is on the disk once its folder is, see `sync_folder`."""
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0), mode)
    with open(descriptor, "wb") as stream:
        stream.write(content)
        sync(stream)


def put_durably(target, content):
    """Bytes at a path, for the owner alone: whole or not at all, and on the disk before this returns. What is there
    already is replaced; folders that are missing are made."""
    for folder in reversed([folder for folder in target.parents if not folder.is_dir()]):
        folder.mkdir(exist_ok=True)
        sync_folder(folder.parent)
    draft = target.with_name(f".{secrets.token_hex(8)}")
    try:
        write_durably(draft, content, mode=0o600)
        os.replace(draft, target)
    finally:
        with suppress(FileNotFoundError):
            draft.unlink()
    sync_folder(target.parent)


def sync(stream):
    """What was written to an open file is on the disk."""
    stream.flush()
    os.fsync(stream.fileno())


def sync_folder(folder):
    """The names in a folder are on the disk. Windows cannot be asked for it."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in NOT_POSSIBLE:
            raise
    finally:
        os.close(descriptor)
