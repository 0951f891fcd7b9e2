"""Lists as people keep them, each with the texts and kinds that its cells show, as far as they go.

By four writers that the app does not read with, openpyxl, XlsxWriter, xlwt (.xls) and odfdo (.ods), and plain bytes.
All of the Fenmark Lending Pool, which is invented.
"""

from dataclasses import dataclass, field

import kept_ods
import kept_texts
import kept_xls
import kept_xlsx
import kept_xlsx_written


@dataclass(frozen=True)
class Case:
    """`sheets` {name: rows of cells}, a cell its text alone where that is TEXT or empty, else (text, kind)."""

    file: str
    content: bytes
    sheets: dict
    hidden: tuple = ()
    merged: dict = field(default_factory=dict)

    def __str__(self):
        return self.file


MAKERS = [
    *kept_xlsx.MAKERS,
    *kept_xlsx_written.MAKERS,
    *kept_xls.MAKERS,
    *kept_ods.MAKERS,
    *kept_texts.MAKERS,
]


def kept(file):
    """The case of that file name."""
    return next(Case(file, *make()) for name, make in MAKERS if name == file)
