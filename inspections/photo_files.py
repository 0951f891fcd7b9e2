"""Where photos lie: in the data folder, each in a file that is written once and never changed."""

import os
import secrets
from contextlib import suppress

from django.core.files.storage import Storage

from .data_folder import PHOTOS, own_folder
from .durable_files import sync_folder, write_durably


class PhotoFiles(Storage):
    """What settings name as the storage `photos`. Names are relative, and whoever gives them has checked them."""

    def path(self, name):
        return os.fspath(own_folder(PHOTOS) / name)

    def exists(self, name):
        return os.path.isfile(self.path(name))

    def _open(self, name, mode="rb"):
        return open(self.path(name), mode)

    def save(self, name, content, max_length=None):
        """The file appears whole or not at all, and is on the disk before this returns.

        One that is there already is written anew: somebody may be about to clear it for its age.
        """
        target = own_folder(PHOTOS) / name
        for folder in (own_folder(PHOTOS), target.parent):
            if not folder.is_dir():
                folder.mkdir(parents=True, exist_ok=True)
                sync_folder(folder.parent)
        draft = target.with_name(f".{secrets.token_hex(8)}")
        try:
            write_durably(draft, content.read(), mode=0o600)
            os.replace(draft, target)
        finally:
            with suppress(FileNotFoundError):
                draft.unlink()
        sync_folder(target.parent)
        return name

    def delete(self, name):
        with suppress(FileNotFoundError):
            os.unlink(self.path(name))
