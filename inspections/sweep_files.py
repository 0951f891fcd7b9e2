"""Where sweep files lie: in the data folder, unchanged, each under the hash of what is in it."""

import os
from contextlib import suppress
from hashlib import sha256

from .data_folder import SWEEPS, own_folder
from .durable_files import put_durably


class SweepFileLost(Exception):
    """The file is not there, or is not what it was; the sentence says which."""


def keep_sweep_file(content):
    """Write the file unless it is there unchanged; returns its hash. It is on the disk before this returns."""
    name = sha256(content).hexdigest()
    with suppress(SweepFileLost):
        kept_sweep_file(name)
        # somebody may be about to clear it for its age
        os.utime(_path(name))
        return name
    put_durably(_path(name), content)
    return name


def kept_sweep_file(name):
    """Its bytes, as they were kept; SweepFileLost where they are not there or not the same any more."""
    try:
        content = _path(name).read_bytes()
    except OSError as error:
        raise SweepFileLost(
            "The file of this sweep is not in the data folder, or cannot be read. Look for it in an older back-up."
        ) from error
    if sha256(content).hexdigest() != name:
        raise SweepFileLost(
            "The file of this sweep is not what was kept: its hash differs, so it is not shown. "
            "Look for it in an older back-up."
        )
    return content


def _path(name):
    return own_folder(SWEEPS) / name[:2] / name
