"""The page of a mat with what its cables are worth; it stands in the place of fleet's own."""

from functools import partial

from django.shortcuts import render
from django.utils import timezone

from fleet.access import MAY_BENCH, MAY_LOG
from fleet.selectors.faults import faults_of_mat
from fleet.selectors.mats import get_mat_or_404, trail_of_mat, usage_of_mat
from fleet.selectors.notes import notes_of
from fleet.selectors.usual_use import usual_use_among
from fleet.selectors.whereabouts import whereabouts_of

from ...assessment.services import ensure_assessed
from ...bench.reading_selectors import readings_of_mat
from ...bench.tables import mat_readings
from ...bench.worked_tables import worked_examples
from ...choices import IN_FORCE
from ...numeric.words import Status
from ...records.selectors import records_of_mat
from ...records.tables import MatRecordTable
from ...tables import folded
from ...templatetags.figures import two_places
from ...templatetags.reason_text import newest_loss
from ...workshop.mat_chart import PositionToDraw, mat_drawing
from ...workshop.selectors import work_orders_of_mat
from ...workshop.tables import MatOrderTable
from .selectors import mat_state
from .story_chart import PHONE, story_chart
from .story_selectors import fittings_with_readings, story_of_mat
from .tables import PositionTable, UsageTable

ROWS_IN_SIGHT = 12


def mat_detail(request, number):
    mat, on = get_mat_or_404(number), timezone.localdate()
    ensure_assessed(on)
    state, usage = mat_state(mat, on), list(usage_of_mat(mat, on))
    readings, orders = readings_of_mat(mat, on), list(work_orders_of_mat(mat))
    faults, fittings = faults_of_mat(mat, on), fittings_with_readings(mat, readings, on)
    story = story_of_mat(state, fittings, faults, usage, on)
    context = {
        "mat": mat,
        "on": on,
        "state": state,
        "away": whereabouts_of(mat, on),
        "statuses": list(Status),
        "drawing": mat_drawing(
            mat.design.width_m, mat.design.folds_m, [_drawn(position) for position in state.positions]
        ),
        "faults": faults,
        "story": story,
        "desk": story_chart(story),
        "phone": story_chart(story, PHONE),
        "cables": fittings,
        "notes": notes_of(mat),
        "positions": PositionTable(state.positions, mat=mat, on=on, may_log=request.user.has_perm(MAY_LOG)),
        "usual_use": usual_use_among(usage),
        "usage": folded(partial(UsageTable, on=on), usage, ROWS_IN_SIGHT),
        "read_with": [shown.reading.instrument_id for shown in readings],
        "worked": worked_examples(readings),
        "readings": mat_readings(readings, may_bench=request.user.has_perm(MAY_BENCH)),
        "orders": MatOrderTable(orders, on=on),
        "in_force": [order for order in orders if order.state_on(on) in IN_FORCE],
        "records": MatRecordTable(records_of_mat(mat)),
        "trail": trail_of_mat(mat),
    }
    return render(request, "inspections/pages/mat/mat.html", context)


def _drawn(position):
    place, row = position.place, position.assessment
    return PositionToDraw(
        number=place.number,
        length_m=place.length_m,
        estimated=place.build.length_is_estimated,
        label=_newest_loss(row, place.fitting.segment) if row else "" if place.fitting else "empty",
        status=row.status if row else "",
        empty=place.fitting is None,
    )


def _newest_loss(row, segment):
    if row.measured_on is None and segment.as_new_loss_db is not None:
        return f"{two_places(segment.as_new_loss_db)} dB as new"
    return newest_loss(row)
