"""What was withdrawn on pages is in no mat and goes to no event from that day on: no file says when it was."""

from datetime import date

from ..choices import UsageState
from ..models import CableSegment, Mat
from .files import EVENTS, FITTINGS, USAGE


def check_withdrawn(files):
    segments, mats = _withdrawn(CableSegment, "serial"), _withdrawn(Mat, "number")
    if segments or mats:
        _check_fittings(files, segments, mats)
        _check_usage(files, mats)


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
