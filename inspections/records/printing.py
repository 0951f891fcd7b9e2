"""A record made ready for paper."""

import re

from .tables import RecordPositionTable, RecordReadingTable

# written by its number in a text of a style sheet, which it might end
SIGN = re.compile(r"[^\w -]", re.ASCII)


def record_context(record):
    content = record.content
    return {
        "record": record,
        "content": content,
        "positions": RecordPositionTable(content["positions"]),
        "readings": RecordReadingTable(content["readings"]),
    }


def record_foot(record):
    """A style sheet: the margins, and the number at the foot of each page."""
    number = SIGN.sub(lambda sign: f"\\{ord(sign[0]):x} ", record.number)
    foot = f'@bottom-left {{ content: "Record {number}"; font: 8pt Arial, sans-serif; }}'
    return f"@page {{ margin: 9mm 11mm 11mm; {foot} }}\n"
