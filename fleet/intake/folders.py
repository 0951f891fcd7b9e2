"""A folder of files read, and which of its files are meant."""

from django.core.exceptions import ValidationError


def read_folder(folder, known):
    """({file name: bytes} of the known files, names of files that are left aside). ValidationError says what is wrong.

    Whatever is no .csv (notes, pictures) is left aside; a .csv of another name is refused, since a misspelt name
    would lose its rows without a word.
    """
    if not folder.exists():
        raise ValidationError(f"There is no folder {folder}.")
    if not folder.is_dir():
        raise ValidationError(f"{folder} is a file. Name the folder that holds the CSV files.")
    try:
        paths = sorted(folder.iterdir())
        picked, aside = pick_files([path.name for path in paths], known)
        return {name: (folder / name).read_bytes() for name in picked}, aside
    except OSError as error:
        raise ValidationError(f"{error.filename} cannot be read: {error.strerror}.") from error


def pick_files(names, known):
    """(names that are known, names left aside); ValidationError on a .csv of another name, or when none is known."""
    unknown = [name for name in names if name not in known and name.lower().endswith(".csv")]
    if unknown:
        raise ValidationError(f"Not one of the files: {', '.join(unknown)}. Files are named {', '.join(known)}.")
    picked = [name for name in known if name in names]
    if not picked:
        raise ValidationError(f"None of the files is here. They are named {', '.join(known)}.")
    return picked, [name for name in names if name not in known]
