"""What a file corrects in rows that are there must fit what else is stored, as it must on the pages of these rows."""

from datetime import date

from ..choices import UsageState
from ..models import CableSegment, Mat, MatDay, UsageEvent
from ..models.mats import mat_name
from .files import EVENTS, FITTINGS, MATS, SEGMENTS, USAGE
from .usage_rules import days_between


def check_corrected(files):
    if files.changes:
        _check_withdrawn_mats(files)
        _check_withdrawn_segments(files)
        _check_fittings(files)
        _check_moved_events(files)
        _check_usage(files)


def _corrected(files, layout, column, *others):
    """(row, its value, …) of the rows in which a file corrects this column."""
    rows = files.corrected_cells(layout.file).get(column)
    if not rows:
        return []
    table, names = files.table(layout.file), (*(c.name for c in layout.key), column, *others)
    return [(row, *(table.values[name][row] for name in names)) for row in rows if table.sound[column][row]]


def _refuse(files, layout, row, column, value, expected):
    files.table(layout.file).refuse(files.errors, row, column, f"“{value}”", expected)


def _check_withdrawn_mats(files):
    rows = _corrected(files, MATS, "withdrawn_on")
    used = UsageEvent.objects.exclude(state=UsageState.CALLED_OFF).filter(mat__number__in=[row[1] for row in rows])
    last = dict(used.order_by("event__starts_on").values_list("mat__number", "event__starts_on")) if rows else {}
    for row, mat, withdrawn_on in rows:
        if withdrawn_on is not None and mat in last and last[mat] >= withdrawn_on:
            expected = f"a day after its last event, which starts on {last[mat]}; call it off there first"
            _refuse(files, MATS, row, "withdrawn_on", withdrawn_on, expected)


def _check_withdrawn_segments(files):
    rows = _corrected(files, SEGMENTS, "withdrawn_on")
    if not rows or not files.can_follow(FITTINGS.file):
        return
    until = {}
    for (segment, _), removed_on in files.known(FITTINGS.file, "removed_on").items():
        until[segment] = max(until.get(segment, date.min), removed_on or date.max)
    for row, segment, withdrawn_on in rows:
        if withdrawn_on is not None and until.get(segment, date.min) > withdrawn_on:
            expected = "a day on which it is in no mat: it is taken out first"
            _refuse(files, SEGMENTS, row, "withdrawn_on", withdrawn_on, expected)


def _check_fittings(files):
    rows = _corrected(files, FITTINGS, "removed_on")
    if not rows:
        return
    withdrawn = CableSegment.objects.exclude(withdrawn_on=None).filter(serial__in=[row[1] for row in rows])
    withdrawn = dict(withdrawn.order_by().values_list("serial", "withdrawn_on"))
    for row, segment, _, removed_on in rows:
        if segment in withdrawn and (removed_on or date.max) > withdrawn[segment]:
            expected = f"a day by {withdrawn[segment]}, on which {segment} was withdrawn"
            _refuse(files, FITTINGS, row, "removed_on", removed_on, expected)


def _check_moved_events(files):
    moved = {}
    for column in ("starts_on", "ends_on"):
        moved |= {event: (row, column) for row, event, _ in _corrected(files, EVENTS, column)}
    if not moved:
        return
    spans = files.known(EVENTS.file, "starts_on", "ends_on")
    usage = UsageEvent.objects.exclude(state=UsageState.CALLED_OFF).filter(event__code__in=list(moved)).order_by()
    in_file = _usage_in_file(files)
    for event, mat, state, home_on, gone in usage.values_list(
        "event__code", "mat__number", "state", "home_on", "mat__withdrawn_on"
    ):
        expected = _unfit_move(spans[event], mat, state, home_on, gone, files.on)
        if not expected and (event, mat) not in in_file and state == UsageState.PLANNED:
            expected = _planned_elsewhere(mat, spans[event], moved)
        row, column = moved[event]
        if expected and files.table(EVENTS.file).sound[column][row]:
            _refuse(files, EVENTS, row, column, files.table(EVENTS.file).values[column][row], expected)


def _usage_in_file(files):
    table = files.table(USAGE.file)
    return {(event, mat) for _, event, mat in table.rows("event", "mat")} if table is not None else set()


def _unfit_move(span, mat, state, home_on, withdrawn_on, on):
    """What is expected where the use of a mat does not fit the new days of its event; else ""."""
    starts_on, ends_on = span
    if state == UsageState.WENT and ends_on > on:
        return f"a day by today, {on}: {mat_name(mat)} went"
    if home_on is not None and home_on < starts_on:
        return f"days that begin by {home_on}, on which {mat_name(mat)} came home"
    if withdrawn_on is not None and withdrawn_on <= starts_on:
        return f"a day before {withdrawn_on}, on which {mat_name(mat)} was withdrawn"
    return ""


def _planned_elsewhere(mat, span, moved):
    taken = MatDay.objects.filter(mat__number=mat, planned=True, day__in=list(days_between(*span)))
    other = taken.exclude(usage_event__event__code__in=list(moved)).values_list("usage_event__event__code").first()
    return f"days on which {mat_name(mat)} is not planned for {other[0]}" if other else ""


def _check_usage(files):
    """What becomes planned, or went, is of a mat in use."""
    rows = _corrected(files, USAGE, "state")
    if not rows or not files.can_follow(EVENTS.file):
        return
    gone = Mat.objects.exclude(withdrawn_on=None).filter(number__in=[row[2] for row in rows])
    gone = dict(gone.order_by().values_list("number", "withdrawn_on"))
    starts = files.known(EVENTS.file, "starts_on")
    for row, event, mat, state in rows:
        if state != UsageState.CALLED_OFF and mat in gone and starts.get(event, date.min) >= gone[mat]:
            _refuse(files, USAGE, row, "state", state, f"called off: {mat_name(mat)} was withdrawn on {gone[mat]}")
