"""Which days a usage event takes of a mat: planned once a day, went more than once where it really did.

Usual use takes none; it is one a month.
"""

from datetime import date, timedelta

from ..choices import UsageBasis, UsageState
from ..limits import LONGEST_EVENT_DAYS
from ..models import MatDay, UsageEvent
from ..models.mats import mat_name
from .files import EVENTS, USAGE


def check_event_lengths(files):
    table = files.table(EVENTS.file)
    if table is None:
        return
    for row, starts_on, ends_on in list(table.rows("starts_on", "ends_on")):
        if (ends_on - starts_on).days >= LONGEST_EVENT_DAYS:
            expected = f"at most {LONGEST_EVENT_DAYS} days from starts_on, {starts_on}"
            table.refuse(files.errors, row, "ends_on", f"“{ends_on}”", expected)


def check_usage_days(files):
    table = files.table(USAGE.file)
    if table is None or not files.can_follow(EVENTS.file):
        return
    span_of = files.known(EVENTS.file, "starts_on", "ends_on")
    _refuse_went_ahead_of_time(files, table, span_of)
    _refuse_home_before_it_left(files, table, span_of)
    taken = _taken_days(table, span_of)
    _refuse_planned_twice(files, table, taken)
    _mark_shared_days(files, table, taken)


def check_usual_use(files):
    """Usual use is never planned, and a mat has one a calendar month."""
    table = files.table(USAGE.file)
    if table is None or not files.can_follow(EVENTS.file):
        return
    # most files have none, and many rows
    if UsageBasis.USUAL not in table.values["basis"].tolist():
        return
    for row, state, basis in list(table.rows("state", "basis")):
        if basis == UsageBasis.USUAL and state == UsageState.PLANNED:
            expected = "went, or called off: usual use is never planned"
            table.refuse(files.errors, row, "state", f"“{state}”", expected)
    _refuse_usual_twice(files, table, files.known(EVENTS.file, "starts_on"))


def _refuse_usual_twice(files, table, start_of):
    rows = [
        (row, event, mat)
        for row, event, mat, state, basis in table.rows("event", "mat", "state", "basis")
        if basis == UsageBasis.USUAL and state == UsageState.WENT and event in start_of
    ]
    first = _stored_usual(rows, start_of)
    for row, event, mat in rows:
        month = (mat, start_of[event].year, start_of[event].month)
        other, where = first.setdefault(month, (event, f"line {table.lines[row]}"))
        if other != event:
            found = f"usual use of {mat_name(mat)} at {event}, {start_of[event]}"
            expected = f"one a mat and month; {where}: {other}, {start_of[other]}"
            table.refuse(files.errors, row, "basis", found, expected)


def _stored_usual(rows, start_of):
    """{(mat, year, month): (event, where)} of what the database has in these months."""
    if not rows:
        return {}
    days = [start_of[event] for _, event, _ in rows]
    stored = UsageEvent.objects.usual().exclude(state=UsageState.CALLED_OFF)
    stored = stored.filter(event__starts_on__gte=min(days).replace(day=1), event__starts_on__year__lte=max(days).year)
    return {
        (mat, day.year, day.month): (event, "stored already")
        for mat, event, day in stored.order_by().values_list("mat__number", "event__code", "event__starts_on")
    }


def days_between(starts_on, ends_on):
    return (starts_on + timedelta(days=n) for n in range((ends_on - starts_on).days + 1))


def _refuse_went_ahead_of_time(files, table, span_of):
    for row, event, state in list(table.rows("event", "state")):
        ends_on = span_of[event][1] if event in span_of else date.min
        if state == UsageState.WENT and ends_on > files.on:
            expected = f"planned: the event ends on {ends_on}, after today, {files.on}"
            table.refuse(files.errors, row, "state", f"“{state}”", expected)


def _refuse_home_before_it_left(files, table, span_of):
    for row, event, state, home_on in list(table.rows("event", "state", "home_on")):
        if home_on is None or event not in span_of:
            continue
        if state == UsageState.CALLED_OFF:
            table.refuse(files.errors, row, "home_on", f"“{home_on}”", "empty: what was called off stayed at home")
        elif home_on < span_of[event][0]:
            expected = f"a day from the first of the event, {span_of[event][0]}, on"
            table.refuse(files.errors, row, "home_on", f"“{home_on}”", expected)


def _taken_days(table, span_of):
    """{(mat, day): [(event, state, row or None)]} of days taken more than once, by the file and what is stored."""
    first, taken, in_file = {}, {}, set()
    days_of = {event: list(days_between(*span_of[event])) for event in table.codes("event") if event in span_of}
    for row, event, mat, state, basis in table.rows("event", "mat", "state", "basis"):
        in_file.add((event, mat))
        if state != UsageState.CALLED_OFF and basis != UsageBasis.USUAL:
            use = (event, state, row)
            for day in days_of.get(event, ()):
                if first.setdefault((mat, day), use) is not use:
                    taken.setdefault((mat, day), [first[mat, day]]).append(use)
    for mat, day, event, planned in _stored_days({day for _, day in first}):
        if (mat, day) in first and (event, mat) not in in_file:
            state = UsageState.PLANNED if planned else UsageState.WENT
            taken.setdefault((mat, day), [first[mat, day]]).append((event, state, None))
    return taken


def _stored_days(days):
    if not days:
        return ()
    rows = MatDay.objects.filter(day__range=(min(days), max(days))).order_by()
    return rows.values_list("mat__number", "day", "usage_event__event__code", "planned")


def _refuse_planned_twice(files, table, taken):
    refused = set()
    for (mat, day), uses in taken.items():
        planned = sorted((use for use in uses if use[1] == UsageState.PLANNED), key=lambda use: use[2] is not None)
        for event, _, row in planned[1:]:
            if row is None or row in refused:
                continue
            refused.add(row)
            first, _, line = planned[0]
            where = "stored already" if line is None else f"line {table.lines[line]}"
            expected = f"a mat planned once a day; {where}: {first}"
            table.refuse(files.errors, row, "mat", f"{mat_name(mat)} at {event} on {day}", expected)


def _mark_shared_days(files, table, taken):
    """Where the file does not say whether a mat shares a day it does if it went to two events on one."""
    new, shared = table.new, {}
    for (mat, day), uses in taken.items():
        for event, state, row in uses:
            if state == UsageState.WENT and row is not None and new[row]:
                shared.setdefault(row, (event, mat, day, [other for other, _, _ in uses if other != event]))
    _say_unsaid(table, shared)
    for row, (event, mat, day, others) in shared.items():
        found = f"{mat_name(mat)} at {event} on {day}, and at {', '.join(others)}"
        expected = "one event a day; both count, and are marked"
        files.warnings.add(table.file, table.lines[row], "mat", found, expected)


def _say_unsaid(table, shared):
    said = table.values["shares_a_day"]
    for row, value in enumerate(said.tolist()):
        if value is None:
            said[row] = row in shared
