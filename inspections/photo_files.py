"""Where photos lie: in the data folder, each in a file that is written once and never changed."""

import os
from contextlib import suppress

from django.core.files.storage import Storage

from .data_folder import PHOTOS, own_folder
from .durable_files import put_durably


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
        put_durably(own_folder(PHOTOS) / name, content.read())
        return name

    def delete(self, name):
        with suppress(FileNotFoundError):
            os.unlink(self.path(name))
