"""The whole pool's files out: into a folder, or as one zip."""

import io
import os
import tempfile
import zipfile

from django.core.exceptions import ValidationError

from fleet.intake import one_moment, write_file

from ..zip_entries import zip_entry
from .sets import FILE_NAMES, LAYOUTS


def export_folder(folder):
    """Write all files into a new folder, or one without any of them; returns {file name: number of rows}.

    Each file appears whole or not at all. ValidationError where the folder cannot be written, or holds such files.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        taken = [name for name in FILE_NAMES if (folder / name).exists()]
        if taken:
            held = ", ".join(taken)
            raise ValidationError(f"{folder} holds {held} already. Name a new folder, so that no file is lost.")
        with one_moment():
            return {layout.file: _write_whole(layout, folder / layout.file) for layout in LAYOUTS}
    except OSError as error:
        raise ValidationError(f"{error.filename or folder} cannot be written: {error.strerror}.") from error


def _write_whole(layout, path):
    draft = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with draft.open("w", encoding="utf-8", newline="") as stream:
            count = write_file(layout, stream)
        draft.replace(path)
        return count
    finally:
        draft.unlink(missing_ok=True)


def export_zip():
    """All files as one zip: a temporary file at its start, gone once closed."""
    stream = tempfile.TemporaryFile()  # noqa: SIM115 - whoever sends it closes it
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive, one_moment():
        for layout in LAYOUTS:
            with (
                archive.open(zip_entry(layout.file), "w") as raw,
                io.TextIOWrapper(raw, encoding="utf-8", newline="") as text,
            ):
                write_file(layout, text)
    stream.seek(0)
    return stream
