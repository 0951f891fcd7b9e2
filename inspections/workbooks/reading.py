"""A workbook from the bytes of its file, whatever the file is called."""

import hashlib
import re

from .ods import read_ods
from .packages import Package, has_password
from .separated import read_separated
from .sheet import Workbook, WorkbookRefused
from .xls import read_xls
from .xlsx import BOOK, read_xlsx

ZIPPED, COMPOUND = b"PK", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
# names of the parts of a compound file stand in UTF-16: a newer workbook with a password is wrapped in one
WRAPPED = "EncryptedPackage".encode("utf-16-le")
DOCUMENT = "WordDocument".encode("utf-16-le")
MARKED_UP = re.compile(rb"(\xef\xbb\xbf)?\s*<(!doctype html|html|head|table|meta|\?xml|!--)", re.IGNORECASE)
NOTHING = b"\xef\xbb\xbf\xff\xfe \t\r\n\0"
SAVE_AS = "Open it in the spreadsheet program, save it as an .xlsx workbook, and send that."


def read_workbook(name, content):
    """What the file of that name shows: .xlsx, .xlsm, .xls, .ods, or separated values of any kind.

    The bytes decide what it is, not the name. No macro is run and no link followed; a formula counts by the value that
    is stored with it. WorkbookRefused, in a sentence for people, where it cannot be read.
    """
    return Workbook(_sheets(name, content), hashlib.sha256(content).hexdigest(), name)


def _sheets(name, content):
    if not content.strip(NOTHING):
        raise WorkbookRefused(f"{name} is empty: nothing stands in it.")
    if content.startswith(ZIPPED):
        return _zipped(Package(name, content), content)
    if content.startswith(COMPOUND):
        return _compound(name, content)
    if MARKED_UP.match(content):
        raise WorkbookRefused(f"{name} is a web page or another marked-up text, and no workbook. {SAVE_AS}")
    if content.startswith(b"%PDF"):
        raise WorkbookRefused(f"{name} is a PDF, which keeps no cells. Send the workbook that it was made from.")
    return read_separated(name, content)


def _zipped(package, content):
    if BOOK in package:
        return read_xlsx(package, content)
    if "content.xml" in package:
        return read_ods(package)
    if "xl/workbook.bin" in package:
        raise WorkbookRefused(f"{package.file} is a binary workbook (.xlsb), which is not read. {SAVE_AS}")
    if "[Content_Types].xml" in package:
        raise WorkbookRefused(f"{package.file} is no workbook but another document. Send a workbook or a CSV file.")
    raise WorkbookRefused(f"{package.file} is a zip without a workbook. Unpack it, and send the lists themselves.")


def _compound(name, content):
    if WRAPPED in content:
        raise has_password(name)
    if DOCUMENT in content:
        raise WorkbookRefused(f"{name} is a text document, and no workbook. Send a workbook or a CSV file.")
    return read_xls(name, content)
