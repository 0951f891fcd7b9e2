"""What is withdrawn is in no mat and goes to no event from that day on."""

from datetime import date

from ..choices import UsageState
from ..models import CableSegment, Mat
from .files import CABLE_TYPES, DEPOTS, EVENTS, FITTINGS, MAT_DESIGNS, SEGMENTS, USAGE


def check_withdrawn(files):
    """Mats withdrawn by the files themselves are not among these: pages take a day before their last fitting."""
    for layout in (DEPOTS, CABLE_TYPES, MAT_DESIGNS):
        if (table := files.table(layout.file)) is not None:
            refuse_reason_without_day(files, table)
    segments, mats = _withdrawn_segments(files), _withdrawn(Mat, "number")
    if segments or mats:
        _check_fittings(files, segments, mats)
        _check_usage(files, mats)


def refuse_reason_without_day(files, table):
    """Why a row is withdrawn is said of a day only; of a day nobody has to know why."""
    for row, withdrawn_on, reason in list(table.rows("withdrawn_on", "withdrawal_reason")):
        if reason and withdrawn_on is None:
            expected = "the day it was withdrawn, since withdrawal_reason has a value"
            table.refuse(files.errors, row, "withdrawn_on", "an empty cell", expected)


def _withdrawn_segments(files):
    withdrawn, table = _withdrawn(CableSegment, "serial"), files.table(SEGMENTS.file)
    if table is not None:
        refuse_reason_without_day(files, table)
        withdrawn |= {segment: day for _, segment, day in table.rows("segment", "withdrawn_on") if day is not None}
    return withdrawn


def _withdrawn(model, code):
    return dict(model.objects.exclude(withdrawn_on=None).order_by().values_list(code, "withdrawn_on"))


def _check_fittings(files, segments, mats):
    table = files.table(FITTINGS.file)
    if table is None:
        return
    for row, segment, mat, fitted_on, removed_on in list(
        table.rows("segment", "mat", "fitted_on", "removed_on", where=table.new)
    ):
        if segment in segments and (removed_on or date.max) > segments[segment]:
            _refuse(files, table, row, "segment", segment, segments[segment], "a removed_on by that day")
        elif mat in mats and fitted_on >= mats[mat]:
            _refuse(files, table, row, "mat", mat, mats[mat], "a fitted_on before that day")


def _check_usage(files, mats):
    table = files.table(USAGE.file)
    if table is None or not files.can_follow(EVENTS.file):
        return
    start_of = files.known(EVENTS.file, "starts_on")
    for row, event, mat, state in list(table.rows("event", "mat", "state", where=table.new)):
        if state != UsageState.CALLED_OFF and mat in mats and start_of.get(event, date.min) >= mats[mat]:
            _refuse(files, table, row, "mat", mat, mats[mat], f"a mat in use when {event} starts")


def _refuse(files, table, row, column, code, withdrawn_on, expected):
    table.refuse(files.errors, row, column, f"{code}, withdrawn on {withdrawn_on}", expected)
