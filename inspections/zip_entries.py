"""Members of the zip files that the app writes, and of those that come from elsewhere."""

import struct
import zipfile
import zlib

# a piece of a member that is unpacked; the sizes that a zip gives may be wrong, so pieces are counted
CHUNK = 1 << 20
# of these a piece can be unpacked and counted before the next; a few bytes of another kind may be gigabytes at once
READ_IN_PIECES = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
# what the reader of zips raises of one that is damaged or has a password
UNREADABLE = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, RuntimeError, ValueError)

# A fixed time, which a zip can hold whatever the clock says: it knows no day before 1980. Two zips of the same content
# are the same bytes.
ZIP_TIME = (1980, 1, 1, 0, 0, 0)


def zip_entry(name, *, deflated=True):
    """A member of that name, for `ZipFile.open` and `ZipFile.writestr`; deflated unless it is small already."""
    entry = zipfile.ZipInfo(name, ZIP_TIME)
    entry.compress_type = zipfile.ZIP_DEFLATED if deflated else zipfile.ZIP_STORED
    return entry
