"""The text of a file that somebody brings, in whatever encoding it was saved."""

import codecs

MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
# zip (and with it every newer spreadsheet), older spreadsheets, PDF
FOREIGN = (
    (b"PK\x03\x04", "a zip or spreadsheet file"),
    (b"\xd0\xcf\x11\xe0", "a spreadsheet file"),
    (b"%PDF", "a PDF"),
)
CONTROLS = frozenset(range(32)) - frozenset(b"\t\n\x0b\x0c\r")


class NotText(Exception):
    """`found` instead of a text."""

    def __init__(self, found):
        self.found = found
        super().__init__(found)


def decoded(content, undefined="strict"):
    """Text of the bytes: UTF-8, UTF-16 (with or without its mark), else Latin-1 as Windows writes it.

    A byte that no character stands for there is refused; `undefined="replace"` takes it as an unknown character.
    """
    for start, what in FOREIGN:
        if content.startswith(start):
            raise NotText(what)
    try:
        text = content.decode(_encoding(content))
    except UnicodeDecodeError:
        text = _one_byte_each(content, undefined)
    if "\0" in text:
        raise NotText("binary content")
    return text


def _encoding(content):
    for mark, encoding in MARKS:
        if content.startswith(mark):
            return encoding
    head = content[:400]
    # it begins with plain ASCII, so that in UTF-16 every second byte is zero
    if len(head) >= 4 and len(content) % 2 == 0:
        if not any(head[1::2]) and all(head[0::2]):
            return "utf-16-le"
        if not any(head[0::2]) and all(head[1::2]):
            return "utf-16-be"
    return "utf-8"


def _one_byte_each(content, undefined):
    if CONTROLS & set(content):
        raise NotText("binary content")
    try:
        return content.decode("cp1252", undefined)
    except UnicodeDecodeError:
        raise NotText("binary content") from None
