"""A zipped workbook, opened within bounds. Nothing in it is followed or run; what its list of contents says may lie."""

import io
import zipfile

from ..zip_entries import CHUNK, READ_IN_PIECES, UNREADABLE
from .bounds import MOST_PARTS, MOST_UNPACKED_BYTES
from .sheet import WorkbookRefused

# the zip's list of its parts is read in one piece: this much names MOST_PARTS and more
LONGEST_LIST = 1 << 20
HAS_PASSWORD = 0x1


class Package:
    """The parts of a zipped workbook. `names` maps each name in small letters, by which parts are found, to its own."""

    def __init__(self, file, content):
        self.file = file
        try:
            self._zip = zipfile.ZipFile(_InPieces(file, content))
            entries = self._zip.infolist()
        except UNREADABLE as error:
            raise damaged(file) from error
        self.names = {entry.filename.lower(): entry.filename for entry in entries}
        self._check(entries)

    def _check(self, entries):
        if len(entries) > MOST_PARTS:
            raise WorkbookRefused(
                f"{self.file} is packed from {len(entries):,} parts; at most {MOST_PARTS:,} are read."
            )
        if any(entry.flag_bits & HAS_PASSWORD for entry in entries):
            raise has_password(self.file)
        # a reader might take either of two parts of one name: only one was looked at
        if len(self.names) < len(entries) or any(entry.compress_type not in READ_IN_PIECES for entry in entries):
            raise damaged(self.file)

    def count(self):
        """Unpack everything once, a piece at a time, and keep nothing. WorkbookRefused where it is too much."""
        total = 0
        for name in self.names.values():
            for piece in self._pieces(name):
                total += len(piece)
                if total > MOST_UNPACKED_BYTES:
                    most = MOST_UNPACKED_BYTES // 2**20
                    raise WorkbookRefused(
                        f"{self.file} is larger than {most} MB when unpacked, the most that is read. Save the sheets "
                        "that are needed as a file of their own."
                    )

    def __contains__(self, name):
        return name.lower() in self.names

    def part(self, name):
        """The bytes of a part; b"" where there is none of that name."""
        return b"".join(self._pieces(self.names[name.lower()])) if name in self else b""

    def _pieces(self, name):
        try:
            with self._zip.open(name) as stream:
                while piece := stream.read(CHUNK):
                    yield piece
        except UNREADABLE as error:
            raise damaged(self.file) from error


class _InPieces(io.BytesIO):
    """A zip that claims a list of contents of many megabytes is not believed."""

    def __init__(self, file, content):
        super().__init__(content)
        self._file = file

    def read(self, size=-1):
        if size is not None and size > max(CHUNK, LONGEST_LIST):
            raise damaged(self._file)
        return super().read(size)


def damaged(file):
    return WorkbookRefused(
        f"{file} is damaged: it cannot be opened as a workbook. Open it in the spreadsheet program, save it again, and "
        "send that."
    )


def has_password(file):
    return WorkbookRefused(
        f"{file} is protected by a password. Open it in the spreadsheet program, save it without a password, and send "
        "that."
    )


def without_cells(file):
    return WorkbookRefused(
        f"{file} holds no sheet with cells, only macros or charts. Send the workbook that holds the lists."
    )
