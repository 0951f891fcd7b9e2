"""The page of a cable segment with its condition; it stands in the place of fleet's own."""

from dataclasses import replace
from math import isclose, nan

from django.shortcuts import render
from django.utils import timezone

from fleet.access import MAY_BENCH
from fleet.selectors.faults import faults_of_segment
from fleet.selectors.notes import notes_of
from fleet.selectors.segments import fittings_of_segment, get_segment_or_404, place_of_segment, trail_of_segment
from fleet.tables.shelf import ledger_of_cable

from ...assessment.assumptions import assumptions_of
from ...assessment.policy_in_force import current_policy
from ...assessment.reasons import reasons
from ...assessment.services import ensure_assessed
from ...bench.reading_selectors import readings_of_segment
from ...bench.tables import reading_table
from ...bench.worked_tables import worked_examples
from ...choices import Taken
from ...numeric.single_segments import band_standard_errors
from ...sweeps.selectors import sweeps_of_segment
from .loss_chart import BAND_SDS, Drawn, ReadingToDraw, TrendToDraw, loss_chart
from .selectors import assessment_of, compared_readings
from .tables import CauseTable, SegmentFittingTable
from .trend_services import trend_of_cable


def segment_detail(request, serial):
    segment, on = get_segment_or_404(serial), timezone.localdate()
    ensure_assessed(on)
    row, place, fittings = assessment_of(segment, on), place_of_segment(segment, on), list(fittings_of_segment(segment))
    readings, policy = readings_of_segment(segment, on), current_policy()
    design_id = place and place.mat.design_id
    trend = trend_of_cable(segment, row, fittings[0].fitted_on if fittings else None, on)
    context = {
        "segment": segment,
        "on": on,
        "row": row,
        "assumptions": row and assumptions_of([row], on)[row.segment_id],
        "place": place,
        "trend": trend,
        "read_new_db": _read_new_db(readings),
        "fittings": fittings,
        "fittings_table": SegmentFittingTable(fittings, user=request.user),
        "causes": row and _causes(row, fittings[0], policy.value("accepted_risk", design_id=design_id), on),
        "chart": _chart(segment, readings, row, policy.value("loss_limit_db", design_id=design_id), on, trend),
        "read_with": [shown.reading.instrument_id for shown in readings],
        "worked": worked_examples(readings),
        "readings": reading_table(readings, may_bench=request.user.has_perm(MAY_BENCH)),
        "sweeps": sweeps_of_segment(segment),
        "faults": faults_of_segment(segment),
        "notes": notes_of(segment),
        "shelf_table": ledger_of_cable(segment),
        "trail": trail_of_segment(segment),
    }
    return render(request, "inspections/pages/segment/segment.html", context)


def _causes(row, first_fitting, accepted_risk, on):
    return CauseTable(reasons(row), first_fitted_on=first_fitting.fitted_on, accepted_risk=accepted_risk, on=on)


def _chart(segment, readings, row, limit_db, on, trend):
    """None where there is nothing to draw: no reading that can be compared, and no line of similar cables."""
    drawn = [_drawn(reading, trend) for reading in compared_readings(readings)]
    if not drawn and not trend.has_path:
        return None
    drawn = [*_as_new(segment, drawn, trend.first_on), *drawn]
    path = _to_draw(trend) if trend.has_path else None
    start = trend.first_on or drawn[0].day
    return loss_chart(drawn, limit_db, start=start, on=on, due_on=row and row.due_on, trend=path)


def _drawn(reading, trend):
    shift = trend.shifts.get((reading.day, reading.instrument_id))
    known = (shift.shift_db, shift.shift_sd_db, shift.get_absolute_url()) if shift else ()
    drawn = ReadingToDraw(reading.day, reading.reference_loss_db, _part(reading, trend), *known)
    return drawn if drawn.loss_db is None else replace(drawn, uncertainty_db=reading.uncertainty_db)


def _part(reading, trend):
    if not reading.counts:
        return Drawn.APART
    if reading.reference_loss_db is None:
        return Drawn.NO_SIGNAL
    # another loss than the fit left out was corrected since, and counts
    departs = isclose(trend.left_out.get(reading.day, nan), reading.reference_loss_db, abs_tol=1e-9)
    return Drawn.OUT if reading.doubtful or departs else Drawn.COUNTS


def _as_new(segment, drawn, first_on):
    """The as-new loss of the register, unless a reading of the day of fitting stands for it."""
    replaced = any(each.day == first_on and each.drawn == Drawn.COUNTS for each in drawn)
    known = first_on and segment.as_new_loss_db is not None and not replaced
    return [ReadingToDraw(first_on, segment.as_new_loss_db, Drawn.AS_NEW)] if known else []


def _read_new_db(readings):
    """The reference loss in dB that was read first at fitting, of what is neither void nor doubted; None without."""
    sure = (shown for shown in readings if not shown.is_void and not shown.reading.doubt_reason)
    at_fitting = (shown for shown in sure if shown.reading.taken == Taken.AT_FITTING)
    losses_db = [shown.judgement.reference_loss_db for shown in at_fitting]
    return next((loss_db for loss_db in reversed(losses_db) if loss_db is not None), None)


def _to_draw(trend):
    read_on = trend.row.trend_level_on or trend.first_on
    return TrendToDraw(trend.first_on, trend.path, read_on, trend.row.trend_expected_on, band_of(trend))


def band_of(trend):
    """Standard deviations within which its loss lies with 90 %; alone few readings must give their own scatter."""
    return band_standard_errors(trend.row.trend_readings) if trend.alone else BAND_SDS
