"""Files that are still there after a power cut: content and name are on the disk before anything speaks of them."""

import errno
import os

# what a folder on some network disks answers, which keep names in a way of their own
NOT_POSSIBLE = (errno.EINVAL, errno.ENOTSUP)


def write_durably(path, content, mode=0o666):
    """Write bytes to a new file. Its name is on the disk once its folder is, see `sync_folder`."""
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0), mode)
    with open(descriptor, "wb") as stream:
        stream.write(content)
        sync(stream)


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
