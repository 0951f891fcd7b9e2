"""The page of a cable segment with its condition; it stands in the place of fleet's own."""

from django.shortcuts import render
from django.utils import timezone

from fleet.access import MAY_BENCH
from fleet.selectors.faults import faults_of_segment
from fleet.selectors.notes import notes_of
from fleet.selectors.segments import fittings_of_segment, get_segment_or_404, place_of_segment, trail_of_segment

from ...assessment.assumptions import assumptions_of
from ...assessment.policy_in_force import current_policy
from ...assessment.pool_fits import is_fitted_alone
from ...assessment.reasons import reasons
from ...assessment.services import ensure_assessed
from ...bench.reading_selectors import readings_of_segment
from ...bench.tables import reading_table
from .loss_chart import ReadingToDraw, loss_chart, trend_to_draw
from .selectors import assessment_of, compared_readings
from .tables import CauseTable, SegmentFittingTable


def segment_detail(request, serial):
    segment, on = get_segment_or_404(serial), timezone.localdate()
    ensure_assessed(on)
    row, place, fittings = assessment_of(segment, on), place_of_segment(segment, on), list(fittings_of_segment(segment))
    readings, policy = readings_of_segment(segment, on), current_policy()
    design_id = place and place.mat.design_id
    # under the event clock a line over years says nothing
    by_events = bool(policy.value("wear_by_events"))
    alone = is_fitted_alone()
    trend = trend_to_draw(row, fittings[0].fitted_on, alone=alone) if fittings and not by_events else None
    context = {
        "segment": segment,
        "on": on,
        "row": row,
        "assumptions": row and assumptions_of([row], on)[row.segment_id],
        "place": place,
        "alone": alone,
        "by_events": by_events,
        "fittings": fittings,
        "fittings_table": SegmentFittingTable(fittings, user=request.user),
        "causes": row and _causes(row, fittings[0], policy.value("accepted_risk", design_id=design_id), on),
        "chart": _chart(readings, fittings, row, policy.value("loss_limit_db", design_id=design_id), on, trend),
        "readings": reading_table(readings, may_bench=request.user.has_perm(MAY_BENCH)),
        "faults": faults_of_segment(segment),
        "notes": notes_of(segment),
        "trail": trail_of_segment(segment),
    }
    return render(request, "inspections/pages/segment/segment.html", context)


def _causes(row, first_fitting, accepted_risk, on):
    return CauseTable(reasons(row), first_fitted_on=first_fitting.fitted_on, accepted_risk=accepted_risk, on=on)


def _chart(readings, fittings, row, limit_db, on, trend):
    """None where there is nothing to draw: no reading that can be compared, and no line of similar cables."""
    compared = compared_readings(readings)
    if not compared and not trend:
        return None
    start = fittings[0].fitted_on if fittings else compared[0].day
    drawn = [ReadingToDraw(reading.day, reading.reference_loss_db, not reading.counts) for reading in compared]
    return loss_chart(drawn, limit_db, start=start, on=on, due_on=row and row.due_on, trend=trend)
