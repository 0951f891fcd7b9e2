"""The whole pool's files in: checked whole, stored whole."""

from django.db import transaction

from fleet.intake import check_files, quiet, store_files

from .sets import LAYOUTS, RULES


def check_pool_files(contents, *, on, progress=quiet):
    """What is in the files of `{file name: bytes}`, and what is wrong with them; nothing is stored."""
    return check_files(contents, LAYOUTS, RULES, on=on, progress=progress)


def load_pool_files(contents, *, by, on, progress=quiet):
    """Check the files and store what is new, in one transaction. Returns (checked set, Load or None).

    FilesRefused with the checked set when it has an error; ValidationError when somebody else stored the same rows
    between the check and the storing.
    """
    with transaction.atomic():
        files = check_pool_files(contents, on=on, progress=progress)
        return files, store_files(files, by=by, progress=progress)
