"""A record made ready for paper."""

from ..workshop.printing import foot_box
from .tables import RecordPositionTable

_OF_A_SESSION = ("day", "instrument", "by", "how")


def record_context(record):
    content = record.content
    return {
        "record": record,
        "content": content,
        "positions": RecordPositionTable(content["positions"]),
        "sessions": _sessions(content["readings"]),
    }


def _sessions(readings):
    """[(what a session shares, its readings)] in the order in which they came, so that it is said once."""
    sessions = {}
    for reading in readings:
        sessions.setdefault(tuple(reading[name] for name in _OF_A_SESSION), []).append(reading)
    return list(sessions.items())


def record_foot(record):
    """A style sheet: the margins, and the number at the foot of each page."""
    return f"@page {{ margin: 9mm 11mm 11mm; {foot_box(f'Record {record}')} }}\n"
