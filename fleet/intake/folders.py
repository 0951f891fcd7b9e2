"""A folder of files read, and which of its files are those of a pool."""

from django.core.exceptions import ValidationError

from .findings import named


def read_folder(folder, known):
    """({file name: bytes} of the known files, names of files that are skipped). ValidationError says what is wrong.

    Other files (notes, pictures) are skipped; a .csv of another name is refused, since a misspelt name
    would lose its rows silently.
    """
    if not folder.exists():
        raise ValidationError(f"There is no folder {folder}.")
    if not folder.is_dir():
        raise ValidationError(f"{folder} is a file. Name the folder that holds the CSV files.")
    try:
        paths = sorted(folder.iterdir())
        picked, skipped = pick_files([path.name for path in paths], known)
        return {name: (folder / name).read_bytes() for name in picked}, skipped
    except OSError as error:
        raise ValidationError(f"{error.filename} cannot be read: {error.strerror}.") from error


def pick_files(names, known):
    """(names that are known, names skipped); ValidationError on a .csv of another name, or when none is known."""
    unknown = [name for name in names if name not in known and name.lower().endswith(".csv")]
    if unknown:
        raise ValidationError(f"Unknown file name: {named(unknown)}. Use these names: {', '.join(known)}.")
    picked = [name for name in known if name in names]
    if not picked:
        raise ValidationError(f"None of the files is here. Use these names: {', '.join(known)}.")
    return picked, [name for name in names if name not in known]
