"""Members of the zip files that the app writes."""

import zipfile

# A fixed time, which a zip can hold whatever the clock says: it knows no day before 1980. Two zips of the same content
# are the same bytes.
ZIP_TIME = (1980, 1, 1, 0, 0, 0)


def zip_entry(name, *, deflated=True):
    """A member of that name, for `ZipFile.open` and `ZipFile.writestr`; deflated unless it is small already."""
    entry = zipfile.ZipInfo(name, ZIP_TIME)
    entry.compress_type = zipfile.ZIP_DEFLATED if deflated else zipfile.ZIP_STORED
    return entry
