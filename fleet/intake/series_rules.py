"""A series is the rule by which events were made: it has some, and of those that follow it no two begin on one day."""

from .files import EVENTS, SERIES


def check_series(files):
    if files.can_follow(EVENTS.file, SERIES.file):
        _refuse_series_without_events(files)
        _refuse_two_on_one_day(files)


def _refuse_series_without_events(files):
    table = files.table(SERIES.file)
    if table is None:
        return
    with_events = set(files.known(EVENTS.file, "series").values())
    for row, code in list(table.rows("series", where=table.new)):
        if code not in with_events:
            expected = f"a series of which {EVENTS.file} names an event: without one it repeats nothing"
            table.refuse(files.errors, row, "series", f"“{code}”", expected)


def _refuse_two_on_one_day(files):
    """One that was changed alone may begin on the day of another."""
    table = files.table(EVENTS.file)
    if table is None:
        return
    known = files.known(EVENTS.file, "series", "starts_on", "changed_alone")
    first = {}
    for event, (series, day, changed_alone) in known.items():
        if series is not None and not changed_alone:
            first.setdefault((series, day), event)
    for row, event, series, day, changed_alone in list(table.rows("event", "series", "starts_on", "changed_alone")):
        other = first.get((series, day), event)
        if series is not None and not changed_alone and other != event:
            expected = f"another day, or yes as changed_alone: {other} of {series} begins on it too"
            table.refuse(files.errors, row, "starts_on", f"“{day}”", expected)
