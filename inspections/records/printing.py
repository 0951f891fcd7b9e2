"""A record made ready for paper."""

from ..workshop.printing import foot_box
from .tables import RecordPositionTable, RecordReadingTable


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
    return f"@page {{ margin: 9mm 11mm 11mm; {foot_box(f'Record {record}')} }}\n"
