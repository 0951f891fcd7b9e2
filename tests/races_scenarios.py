"""Pairs of acts that may come at once. Each got its rows before either begins, as two people's pages do.

A scenario is a function of (by, on) that makes its rows and gives two calls; its name says what they are about.
"""

import copy
import inspect
import sys
from datetime import timedelta
from functools import partial

from django.db import transaction
from factories import (
    fit,
    make_depot,
    make_event,
    make_instrument,
    make_person,
    make_pile,
    make_plain_design,
    make_plain_mat,
    make_plain_segment,
    make_proposed,
    make_reading,
    make_series,
    make_used_limits,
    set_policy_value,
)

from fleet.models import Event, Mat
from fleet.services.arrivals import Arrival
from fleet.services.deleting import delete_event
from fleet.services.designs import add_position, delete_position
from fleet.services.events import add_event, correct_event
from fleet.services.faults import correct_fault, end_fault, report_fault
from fleet.services.fittings import TakenOut, correct_fitting, fit_segment, take_out
from fleet.services.loans import take_back_loan
from fleet.services.people import add_person, change_role, deactivate
from fleet.services.register import (
    add_mat,
    add_segment,
    correct_mat,
    correct_segment,
    return_to_use,
    withdraw_mat,
    withdraw_segment,
)
from fleet.services.series import end_series, repeat_event
from fleet.services.series_following import WeekValues, change_following
from fleet.services.settling import UsageValues
from fleet.services.shelf_of_kind import move_kind, scrap_kind
from fleet.services.start_here import MatGroup, register_mats
from fleet.services.swaps import swap_mat
from fleet.services.usage import answer_event, call_off, correct_usage_event, log_event
from fleet.services.whereabouts import say_home
from inspections.assessment.services import assess_pool
from inspections.bench.instruments.services import correct_instrument
from inspections.bench.services import TypedReading, record_readings, void_reading
from inspections.deleting.load_services import take_back
from inspections.deleting.services import delete_fitting, delete_mat, delete_segment
from inspections.files.loading import load_pool_files
from inspections.length_limits.use_services import take_back as take_limits_back
from inspections.length_limits.use_services import use_limits
from inspections.start.services import start_pool
from inspections.validators import TypedLoss
from inspections.workshop.bulk_selectors import all_due
from inspections.workshop.bulk_services import raise_all_due
from inspections.workshop.change_services import Change, GoesIn
from inspections.workshop.services import raise_work_orders, renew_work_order, withdraw_work_order
from inspections.workshop.sign_off_services import answer_order

DAY = timedelta(days=1)
WEEK = timedelta(weeks=1)
PLANNED, WENT = UsageValues("planned"), UsageValues("went")


def call(act, *rows, **values):
    """The act on copies of these rows, as another page has read them."""
    return partial(act, *copy.deepcopy(rows), **copy.deepcopy(values))


def event_ahead(on, **values):
    return make_event(on + WEEK, **values)


def planned_at(event, mats, by, on):
    log_event(event, dict.fromkeys(mats, PLANNED), by=by, on=on)
    return event


def weekly(mats, by, on):
    """The first event of a series of five, planned for these mats."""
    event = planned_at(event_ahead(on), mats, by, on)
    repeat_event(event, every_weeks=1, until=event.starts_on + 4 * WEEK, by=by, on=on)
    event.refresh_from_db()
    return event


# registered and fitted


def a_withdrawn_cable_is_fitted(by, on):
    mat, segment = make_plain_mat(), make_plain_segment()
    return (
        call(withdraw_segment, segment, by=by, on=on, reason="lost"),
        call(fit_segment, segment, mat, 1, by=by, on=on, fitted_on=on),
    )


def a_cable_is_fitted_into_a_withdrawn_mat(by, on):
    mat = make_plain_mat()
    return (
        call(withdraw_mat, mat, by=by, on=on, reason="sold"),
        call(fit_segment, make_plain_segment(), mat, 1, by=by, on=on, fitted_on=on),
    )


def a_mat_gets_a_design_without_a_position_just_filled(by, on):
    mat, small = make_plain_mat(), make_plain_design(positions=1)
    return (
        call(correct_mat, mat, by=by, on=on, design=small),
        call(fit_segment, make_plain_segment(), mat, 4, by=by, on=on, fitted_on=on),
    )


def a_deleted_position_has_a_fault(by, on):
    mat = make_plain_mat()
    return (
        call(delete_position, mat.design.positions.get(number=4), by=by, reason="typed twice"),
        call(report_fault, mat, by=by, on=on, place="cover or fold", reported_on=on, position=4),
    )


def a_deleted_position_has_a_cable(by, on):
    mat = make_plain_mat()
    return (
        call(delete_position, mat.design.positions.get(number=4), by=by, reason="typed twice"),
        call(fit_segment, make_plain_segment(), mat, 4, by=by, on=on, fitted_on=on),
    )


def a_mat_comes_with_a_cable_to_a_deleted_position(by, on):
    design, mat = make_plain_design(), make_plain_mat(fitted=True)
    return (
        call(delete_position, design.positions.get(number=4), by=by, reason="typed twice"),
        call(correct_mat, mat, by=by, on=on, design=design),
    )


def two_positions_of_one_number(by, on):
    design = make_plain_design()
    values = {"by": by, "number": 5, "length_m": 1.0, "cable_type": design.positions.first().cable_type}
    return (call(add_position, design, **values), call(add_position, design, **values))


def two_cables_are_in_one_position(by, on):
    mat = make_plain_mat()
    return (
        call(fit_segment, make_plain_segment(), mat, 1, by=by, on=on, fitted_on=on),
        call(fit_segment, make_plain_segment(), mat, 1, by=by, on=on, fitted_on=on - DAY),
    )


def a_cable_is_in_two_positions(by, on):
    segment = make_plain_segment()
    return (
        call(fit_segment, segment, make_plain_mat(), 1, by=by, on=on, fitted_on=on),
        call(fit_segment, segment, make_plain_mat(), 1, by=by, on=on, fitted_on=on - DAY),
    )


def two_fittings_overlap_after_a_correction(by, on):
    mat = make_plain_mat()
    earlier = fit(make_plain_segment(), mat, 1, on - 90 * DAY, removed_on=on - 60 * DAY, removal_reason="worn")
    return (
        call(correct_fitting, earlier, by=by, on=on, removed_on=on - 10 * DAY),
        call(fit_segment, make_plain_segment(), mat, 1, by=by, on=on, fitted_on=on - 30 * DAY),
    )


def two_corrections_overlap(by, on):
    mat = make_plain_mat()
    earlier = fit(make_plain_segment(), mat, 1, on - 90 * DAY, removed_on=on - 60 * DAY, removal_reason="worn")
    later = fit(make_plain_segment(), mat, 1, on - 20 * DAY)
    return (
        call(correct_fitting, earlier, by=by, on=on, removed_on=on - 30 * DAY),
        call(correct_fitting, later, by=by, on=on, fitted_on=on - 50 * DAY),
    )


def a_cable_overlaps_itself_after_a_correction(by, on):
    segment, mat = make_plain_segment(), make_plain_mat()
    earlier = fit(segment, make_plain_mat(), 1, on - 90 * DAY, removed_on=on - 60 * DAY, removal_reason="worn")
    return (
        call(correct_fitting, earlier, by=by, on=on, removed_on=on - 10 * DAY),
        call(fit_segment, segment, mat, 1, by=by, on=on, fitted_on=on - 30 * DAY),
    )


def two_swaps_of_two_cables(by, on):
    one, other = make_plain_mat(fitted=True), make_plain_mat(fitted=True)
    mine, theirs = one.fittings.get(position=1), other.fittings.get(position=1)
    swap = {"by": by, "on": on, "fitted_on": on, "move": True}
    return (
        call(fit_segment, mine.segment, other, 1, out=TakenOut(theirs, "swapped"), **swap),
        call(fit_segment, theirs.segment, one, 1, out=TakenOut(mine, "swapped"), **swap),
    )


def two_take_outs_of_one_cable(by, on):
    fitting = make_plain_mat(fitted=True).fittings.get(position=1)
    out = {"by": by, "on": on, "removed_on": on, "reason": "worn"}
    return (call(take_out, fitting, **out), call(take_out, fitting, goes="thrown away", **out))


def a_cable_is_thrown_away_and_moved(by, on):
    fitting, mat = make_plain_mat(fitted=True).fittings.get(position=1), make_plain_mat()
    return (
        call(take_out, fitting, by=by, on=on, removed_on=on, reason="worn", goes="thrown away"),
        call(fit_segment, fitting.segment, mat, 1, by=by, on=on, fitted_on=on, move=True),
    )


def a_cable_back_in_use_and_withdrawn(by, on):
    segment = make_plain_segment(withdrawn_on=on - DAY, withdrawal_reason="lost")
    return (
        call(return_to_use, segment, by=by, on=on),
        call(fit_segment, segment, make_plain_mat(), 1, by=by, on=on, fitted_on=on),
    )


def two_mats_of_one_number(by, on):
    design, number = make_plain_design(), f"twin {Mat.objects.count()}"
    return (
        call(add_mat, by=by, on=on, number=number, design=design),
        call(add_mat, by=by, on=on, number=number.upper(), design=design),
    )


def two_mats_renamed_alike(by, on):
    number = f"renamed {Mat.objects.count()}"
    return (
        call(correct_mat, make_plain_mat(), by=by, on=on, number=number),
        call(correct_mat, make_plain_mat(), by=by, on=on, number=number.upper()),
    )


def mats_registered_twice(by, on):
    def group(*numbers):
        return [MatGroup(1.0, (1.0, 1.0), numbers, on - 100 * DAY, "known", times_a_year=6)]

    known = Mat.objects.count()
    one, other = f"S-{known}", f"T-{known}"
    return (
        call(start_pool, group(one, other), {"age_limit_years": 6}, by=by, on=on),
        call(register_mats, group(other, one), by=by, on=on),
    )


def run_of_one_mat(by, day):
    number = f"U-{Mat.objects.count()}"
    load = register_mats([MatGroup(1.0, (1.0,), (number,), day - 100 * DAY, "known")], by=by, on=day)
    return load, Mat.objects.get(number=number)


def a_run_taken_back_twice(by, on):
    load, _ = run_of_one_mat(by, on)
    return (
        call(take_back, load, by=by, on=on, reason="no mat"),
        call(take_back, load, by=by, on=on, reason="never there"),
    )


def a_run_taken_back_while_its_mat_is_planned(by, on):
    load, mat = run_of_one_mat(by, on)
    event = event_ahead(on)
    return (
        call(take_back, load, by=by, on=on, reason="no mat"),
        call(log_event, event, {mat: PLANNED}, by=by, on=on),
    )


# faults


def a_fault_of_a_cable_that_was_not_there(by, on):
    mat = make_plain_mat(fitted=True)
    fitting = mat.fittings.get(position=1)
    return (
        call(correct_fitting, fitting, by=by, on=on, fitted_on=on - DAY),
        call(report_fault, mat, by=by, on=on, place="cable", reported_on=on - 9 * DAY, position=1),
    )


def a_fault_of_a_cable_that_came_out(by, on):
    mat = make_plain_mat(fitted=True)
    fitting = mat.fittings.get(position=1)
    return (
        call(take_out, fitting, by=by, on=on, removed_on=on - 9 * DAY, reason="worn"),
        call(report_fault, mat, by=by, on=on, place="cable", reported_on=on, position=1),
    )


def a_cable_with_an_open_fault_is_moved(by, on):
    mat = make_plain_mat(fitted=True)
    segment = mat.fittings.get(position=1).segment
    return (
        call(report_fault, mat, by=by, on=on, place="cable", reported_on=on, position=1),
        call(fit_segment, segment, make_plain_mat(), 1, by=by, on=on, fitted_on=on, move=True),
    )


def two_faults_of_one_number(by, on):
    mat = make_plain_mat(fitted=True)
    fault = {"by": by, "on": on, "place": "cable", "reported_on": on}
    return (call(report_fault, mat, position=1, **fault), call(report_fault, mat, position=2, **fault))


def a_fault_closed_twice(by, on):
    fault = report_fault(make_plain_mat(), by=by, on=on, place="whole mat", reported_on=on - DAY)
    end = {"by": by, "on": on, "ended_on": on}
    return (
        call(end_fault, fault, end_reason="repair", **end),
        call(end_fault, fault, end_reason="looked at, nothing found", **end),
    )


def a_fault_closed_before_it_was_reported(by, on):
    fault = report_fault(make_plain_mat(), by=by, on=on, place="whole mat", reported_on=on - 9 * DAY)
    return (
        call(end_fault, fault, by=by, on=on, ended_on=on - 5 * DAY, end_reason="repair"),
        call(correct_fault, fault, by=by, on=on, reported_on=on),
    )


# events and use


def a_withdrawn_mat_is_planned(by, on):
    mat, event = make_plain_mat(), event_ahead(on)
    return (call(withdraw_mat, mat, by=by, on=on, reason="sold"), call(log_event, event, {mat: PLANNED}, by=by, on=on))


def a_withdrawn_mat_is_planned_again(by, on):
    mat = make_plain_mat()
    usage = planned_at(event_ahead(on), [mat], by, on).usage_events.get()
    call_off(usage, by=by, on=on)
    return (
        call(withdraw_mat, mat, by=by, on=on, reason="sold"),
        call(correct_usage_event, usage, by=by, on=on, state="planned"),
    )


def a_withdrawn_mat_is_moved_with_its_event(by, on):
    mat = make_plain_mat()
    event = planned_at(make_event(on - 2 * DAY), [mat], by, on)
    return (
        call(withdraw_mat, mat, by=by, on=on, reason="sold"),
        call(correct_event, event, by=by, on=on, starts_on=on + WEEK, ends_on=on + WEEK),
    )


def a_withdrawn_mat_in_a_series(by, on):
    mat, other = make_plain_mat(), make_plain_mat()
    event = weekly([other], by, on)
    values = WeekValues(event.name, "", event.starts_on.weekday(), 1, (mat, other))
    return (call(withdraw_mat, mat, by=by, on=on, reason="sold"), call(change_following, event, values, by=by, on=on))


def a_withdrawn_mat_is_repeated(by, on):
    mat = make_plain_mat()
    event = planned_at(make_event(on - DAY), [mat], by, on)
    return (
        call(withdraw_mat, mat, by=by, on=on, reason="sold"),
        call(repeat_event, event, every_weeks=1, until=on + 3 * WEEK, by=by, on=on),
    )


def a_mat_is_planned_twice_a_day(by, on):
    mat, one, other = make_plain_mat(), event_ahead(on), event_ahead(on)
    return (call(log_event, one, {mat: PLANNED}, by=by, on=on), call(log_event, other, {mat: PLANNED}, by=by, on=on))


def two_events_move_onto_one_day(by, on):
    mat = make_plain_mat()
    one = planned_at(make_event(on + 2 * DAY), [mat], by, on)
    other = planned_at(make_event(on + 3 * DAY), [mat], by, on)
    day = on + 4 * DAY
    return (
        call(correct_event, one, by=by, on=on, starts_on=day, ends_on=day),
        call(correct_event, other, by=by, on=on, starts_on=day, ends_on=day),
    )


def a_week_of_a_series_changed_by_both(by, on):
    mat = make_plain_mat()
    event = weekly([mat], by, on)
    values = WeekValues(f"Moved {event.pk}", "", (event.starts_on.weekday() + 1) % 7, 1, (mat,))
    last = event.series.events.order_by("-starts_on").first()
    return (
        call(change_following, event, values, by=by, on=on),
        call(correct_event, last, by=by, on=on, starts_on=last.starts_on + 2 * DAY, ends_on=last.starts_on + 2 * DAY),
    )


def a_series_ended_and_changed(by, on):
    mat = make_plain_mat()
    event = weekly([mat], by, on)
    values = WeekValues(f"Moved {event.pk}", "", (event.starts_on.weekday() + 1) % 7, 1, (mat,))
    return (
        call(end_series, event.series, last_day=event.starts_on, by=by, on=on),
        call(change_following, event, values, by=by, on=on),
    )


def a_series_ended_and_a_mat_of_it_logged(by, on):
    mat = make_plain_mat()
    event = weekly([mat], by, on)
    last = event.series.events.order_by("-starts_on").first()
    return (
        call(end_series, event.series, last_day=event.starts_on, by=by, on=on),
        call(log_event, last, {make_plain_mat(): PLANNED}, by=by, on=on),
    )


def an_event_answered_twice(by, on):
    event = planned_at(make_event(on - DAY), [make_plain_mat(), make_plain_mat()], by, on)
    return (call(answer_event, event, "went", by=by, on=on), call(answer_event, event, "called off", by=by, on=on))


def a_loan_that_comes_back_while_it_is_corrected(by, on):
    mats = [make_plain_mat(), make_plain_mat()]
    event = planned_at(make_event(on - 40 * DAY, days=30), mats, by, on)
    return (
        call(take_back_loan, event, dict.fromkeys(mats, 4), basis="reported", by=by, on=on, back_on=on - 12 * DAY),
        call(correct_event, event, by=by, on=on, ends_on=on - 5 * DAY),
    )


def two_events_of_one_name_and_day(by, on):
    event = {"by": by, "name": f"Twin run {Event.objects.count()}", "starts_on": on}
    return (
        call(add_event, **event),
        call(add_event, **event),
    )


def two_events_of_one_name_and_day_at_two_places(by, on):
    event = {"by": by, "name": f"Twin run {Event.objects.count()}", "starts_on": on}
    return (call(add_event, place="Fen", **event), call(add_event, place="Mill", **event))


def an_event_that_becomes_another_that_is_new(by, on):
    event, name = make_event(on), f"Twin run {Event.objects.count()}"
    return (
        call(correct_event, event, by=by, on=on, name=name, place="Fen"),
        call(add_event, by=by, name=name, starts_on=on, place="Mill"),
    )


def a_mat_that_goes_instead_is_planned_elsewhere(by, on):
    mat, other = make_plain_mat(), make_plain_mat()
    row = planned_at(event_ahead(on), [mat], by, on).usage_events.get()
    return (
        call(swap_mat, row, other, by=by, on=on),
        call(log_event, event_ahead(on), {other: PLANNED}, by=by, on=on),
    )


def a_mat_goes_instead_in_all_weeks_while_they_change(by, on):
    mat, other = make_plain_mat(), make_plain_mat()
    event = weekly([mat], by, on)
    values = WeekValues(f"Moved {event.pk}", "", (event.starts_on.weekday() + 1) % 7, 1, (mat,))
    return (
        call(swap_mat, event.usage_events.get(), other, by=by, on=on, later=True),
        call(change_following, event, values, by=by, on=on),
    )


def mats_come_home_from_an_event_that_moves(by, on):
    event = planned_at(make_event(on - 3 * DAY, days=9), [make_plain_mat(), make_plain_mat()], by, on)
    return (
        call(say_home, event, by=by, on=on, home_on=on - 2 * DAY),
        call(correct_event, event, by=by, on=on, starts_on=on - DAY),
    )


def a_mat_comes_home_that_is_called_off(by, on):
    event = planned_at(make_event(on - 3 * DAY, days=9), [make_plain_mat(), make_plain_mat()], by, on)
    return (
        call(say_home, event, by=by, on=on, home_on=on),
        call(call_off, event.usage_events.first(), by=by, on=on),
    )


def two_new_events_with_the_same_mats(by, on):
    """Each adds an event, logs mats and repeats it, as one page does; they have the mats in common."""
    mats = [make_plain_mat(), make_plain_mat()]
    known = Event.objects.count()
    return (
        call(log_new_and_repeat, f"Run {known}", mats, by, on),
        call(log_new_and_repeat, f"Ride {known}", mats[::-1], by, on),
    )


def a_new_event_beside_one_that_is_repeated(by, on):
    mats = [make_plain_mat(), make_plain_mat()]
    event = planned_at(event_ahead(on), mats[:1], by, on)
    return (
        call(log_and_repeat, event, mats[1:], by, on),
        call(log_new_and_repeat, f"Ride {Event.objects.count()}", mats, by, on),
    )


# bench, orders, policy, files


def readings_judged_by_an_old_instrument(by, on):
    mat, instrument = make_plain_mat(fitted=True), make_instrument()
    make_reading(mat.fittings.get(position=2).segment, instrument=instrument)
    typed = [TypedReading(mat.fittings.get(position=1).segment, TypedLoss(1.2))]
    return (
        call(record_readings, mat, typed, by=by, on=on, measured_on=on, instrument=instrument),
        call(correct_instrument, instrument, by=by, on=on, standard_uncertainty_db=0.3),
    )


def readings_of_a_cable_that_was_not_there(by, on):
    mat = make_plain_mat(fitted=True)
    fitting = mat.fittings.get(position=1)
    typed = [TypedReading(fitting.segment, TypedLoss(1.2))]
    return (
        call(take_out, fitting, by=by, on=on, removed_on=on - DAY, reason="worn"),
        call(record_readings, mat, typed, by=by, on=on, measured_on=on),
    )


def two_readings_of_one_number(by, on):
    mat = make_plain_mat(fitted=True)
    typed = [TypedReading(fitting.segment, TypedLoss(1.2)) for fitting in mat.fittings.all()]
    kept = {"by": by, "on": on, "measured_on": on}
    return (call(record_readings, mat, typed, **kept), call(record_readings, mat, typed[::-1], **kept))


def a_bench_day_of_two_mats(by, on):
    kept = {"by": by, "on": on, "measured_on": on}
    mats = [make_plain_mat(fitted=True) for _ in range(2)]
    typed = [[TypedReading(fitting.segment, TypedLoss(1.2)) for fitting in mat.fittings.all()] for mat in mats]
    return tuple(call(record_readings, mat, losses, **kept) for mat, losses in zip(mats, typed, strict=True))


def a_reading_made_void_twice(by, on):
    reading = make_reading(make_plain_mat(fitted=True).fittings.get(position=1).segment)
    void = call(void_reading, reading, by=by, on=on, reason="wrong cable")
    return (void, call(void_reading, reading, by=by, on=on, reason="slip"))


def an_open_line_of_a_cable_that_is_out(by, on):
    fitting = make_plain_mat(fitted=True).fittings.get(position=1)
    return (
        call(raise_work_orders, [fitting.segment_id], by=by, on=on),
        call(take_out, fitting, by=by, on=on, removed_on=on, reason="worn"),
    )


def an_open_line_of_a_cable_that_was_moved(by, on):
    fitting, mat = make_plain_mat(fitted=True).fittings.get(position=1), make_plain_mat()
    return (
        call(raise_work_orders, [fitting.segment_id], by=by, on=on),
        call(fit_segment, fitting.segment, mat, 2, by=by, on=on, fitted_on=on, move=True),
    )


def two_orders_for_one_cable(by, on):
    one, other = make_plain_mat(fitted=True), make_plain_mat(fitted=True)
    ids = [*one.fittings.values_list("segment", flat=True), *other.fittings.values_list("segment", flat=True)]
    return (call(raise_work_orders, ids, by=by, on=on), call(raise_work_orders, ids[::-1], by=by, on=on))


def an_order_for_a_withdrawn_mat(by, on):
    mat = make_plain_mat(fitted=True)
    ids = list(mat.fittings.values_list("segment", flat=True))
    return (
        call(withdraw_mat, mat, by=by, on=on, reason="sold"),
        call(raise_work_orders, ids, by=by, on=on),
    )


def an_order_withdrawn_twice(by, on):
    mat = make_plain_mat(fitted=True)
    order = raise_work_orders(mat.fittings.values_list("segment", flat=True), by=by, on=on)[0]
    fitting = mat.fittings.get(position=1)
    return (
        call(withdraw_work_order, order, by=by, on=on, reason="done otherwise"),
        call(take_out, fitting, by=by, on=on, removed_on=on, reason="worn"),
    )


def an_order_signed_off_twice(by, on):
    order = order_of(make_plain_mat(fitted=True), by, on)
    return (signed_off(order, by, on), signed_off(order, by, on))


def an_order_signed_off_and_withdrawn(by, on):
    order = order_of(make_plain_mat(fitted=True), by, on)
    return (signed_off(order, by, on), call(withdraw_work_order, order, by=by, on=on, reason="done otherwise"))


def an_order_signed_off_and_renewed(by, on):
    order = order_of(make_plain_mat(fitted=True), by, on)
    return (signed_off(order, by, on), call(renew_work_order, order, by=by, on=on))


def a_line_done_and_left(by, on):
    order = order_of(make_plain_mat(fitted=True), by, on)
    left = call(answer_order, order, by=by, on=on, changed_on=on, left={1: "no spare"})
    return (signed_off(order, by, on), left)


def an_order_signed_off_while_a_cable_of_it_comes_out(by, on):
    mat = make_plain_mat(fitted=True)
    order = order_of(mat, by, on)
    return (
        signed_off(order, by, on),
        call(take_out, mat.fittings.get(position=1), by=by, on=on, removed_on=on, reason="worn"),
    )


def one_spare_for_two_orders(by, on):
    one, other = (order_of(make_plain_mat(fitted=True), by, on) for _ in range(2))
    spares = [make_plain_segment() for _ in range(4)]
    return (signed_off(one, by, on, spares), signed_off(other, by, on, spares))


def all_due_raised_twice(by, on):
    make_plain_mat(fitted=True, fitted_on=on - 1200 * DAY)
    assess_pool(on)
    raised = call(raise_all_due, None, by=by, on=on, seen=all_due(None, on).mark)
    return (raised, raised)


def all_due_raised_while_a_cable_of_it_comes_out(by, on):
    mat = make_plain_mat(fitted=True, fitted_on=on - 1200 * DAY)
    assess_pool(on)
    return (
        call(raise_all_due, None, by=by, on=on, seen=all_due(None, on).mark),
        call(take_out, mat.fittings.get(position=1), by=by, on=on, removed_on=on, reason="worn"),
    )


def order_of(mat, by, on):
    return raise_work_orders(mat.fittings.values_list("segment", flat=True), by=by, on=on)[0]


def signed_off(order, by, on, spares=None):
    """Every cable of the order changed, each for a spare."""
    spares = iter(spares or [make_plain_segment() for _ in range(order.lines.count())])
    changes = [
        Change(fitting.position, GoesIn(next(spares)), TakenOut(fitting, "worn"), new_loss=TypedLoss(0.7))
        for fitting in order.mat.fittings.all()
    ]
    return call(answer_order, order, by=by, on=on, changed_on=on, changes=changes)


def the_last_of_a_pile_is_thrown_away_and_gets_a_serial(by, on):
    pile = make_pile(count=1)
    kind = {"cable_type": pile.cable_type, "length_m": pile.length_m, "arrival": Arrival(counted=True)}
    return (
        call(scrap_kind, {pile: 1}, by=by, on=on, day=on, reason="crushed"),
        call(add_segment, by=by, on=on, serial=f"P-{pile.cable_type}", **kind),
    )


def a_spare_is_moved_while_it_is_fitted(by, on):
    mat, depot = make_plain_mat(), make_depot()
    kind = {"cable_type": mat.design.positions.first().cable_type, "length_m": 1.0}
    spare = add_segment(by=by, on=on, serial=f"S-{mat.number}", **kind)
    return (
        call(move_kind, {}, [spare], depot, by=by, on=on, day=on),
        call(fit_segment, spare, mat, 1, by=by, on=on, fitted_on=on),
    )


def assessed_by_a_policy_that_was(by, on):
    mat = make_plain_mat(fitted=True)
    return (
        call(set_policy_value, "age_limit_years", 3, by=by, on=on),
        call(fit_segment, make_plain_segment(), mat, 1, by=by, on=on, fitted_on=on,
             out=TakenOut(mat.fittings.get(position=1), "worn")),
    )  # fmt: skip


def assessed_by_a_policy_of_a_design_that_was(by, on):
    mat, design = make_plain_mat(fitted=True), make_plain_design()
    return (
        call(set_policy_value, "event_limit", 20, design=design, by=by, on=on),
        call(correct_mat, mat, by=by, on=on, design=design),
    )


def two_policy_values_at_once(by, on):
    return (
        call(set_policy_value, "look_ahead_days", 30, by=by, on=on, seen_version=0),
        call(set_policy_value, "look_ahead_days", 60, by=by, on=on, seen_version=0),
    )


def limits_by_length_used_twice(by, on):
    proposed = [make_proposed(make_plain_mat(fitted=True).design)]
    return tuple(call(use_limits, proposed, wear_clock="years", by=by, on=on) for _ in range(2))


def limits_by_length_used_while_the_position_gets_another(by, on):
    design = make_plain_mat(fitted=True).design
    own = {"design": design, "position": 1, "by": by, "on": on, "seen_version": 0}
    return (
        call(use_limits, [make_proposed(design)], wear_clock="years", by=by, on=on),
        call(set_policy_value, "age_limit_years", 4, **own),
    )


def limits_by_length_taken_back_twice(by, on):
    used = make_used_limits(make_plain_mat(fitted=True).design, on, by)
    return tuple(call(take_limits_back, used, by=by, on=on) for _ in range(2))


def assessed_by_a_length_that_was(by, on):
    mat = make_plain_mat(fitted=True)
    segment = mat.fittings.get(position=1).segment
    typed = [TypedReading(segment, TypedLoss(1.2))]
    return (
        call(correct_segment, segment, by=by, on=on, length_m=1.3),
        call(record_readings, mat, typed, by=by, on=on, measured_on=on),
    )


def files_plan_a_withdrawn_mat(by, on):
    mat, event = make_plain_mat(), event_ahead(on)
    files = {"usage.csv": f"event,mat,state\n{event.code},{mat.number},planned\n".encode()}
    return (call(load_pool_files, files, by=by, on=on), call(withdraw_mat, mat, by=by, on=on, reason="sold"))


def files_fit_a_withdrawn_cable(by, on):
    mat, segment = make_plain_mat(), make_plain_segment()
    return (
        call(load_pool_files, files_fitting(segment, mat, on - DAY), by=by, on=on),
        call(withdraw_segment, segment, by=by, on=on, reason="lost"),
    )


def files_fit_two_cables_into_one_position(by, on):
    mat = make_plain_mat()
    return (
        call(load_pool_files, files_fitting(make_plain_segment(), mat, on - DAY), by=by, on=on),
        call(fit_segment, make_plain_segment(), mat, 1, by=by, on=on, fitted_on=on - 9 * DAY),
    )


def files_fitting(segment, mat, day):
    return {"fittings.csv": f"segment,fitted_on,mat,position\n{segment.serial},{day},{mat.number},1\n".encode()}


# deleted


def a_deleted_fitting_is_taken_out(by, on):
    fitting = fit(make_plain_segment(), make_plain_mat(), 1, on - DAY)
    return (
        call(delete_fitting, fitting, by=by, on=on, reason="never so", seen_version=1),
        call(take_out, fitting, by=by, on=on, removed_on=on, reason="worn"),
    )


def a_deleted_fitting_gets_a_later_one(by, on):
    mat = make_plain_mat()
    fitting = fit(make_plain_segment(), mat, 1, on - DAY)
    out = TakenOut(fitting, "worn")
    return (
        call(delete_fitting, fitting, by=by, on=on, reason="never so", seen_version=1),
        call(fit_segment, make_plain_segment(), mat, 1, by=by, on=on, fitted_on=on, out=out),
    )


def what_a_deleted_fitting_displaced_goes_elsewhere(by, on):
    mat, other = make_plain_mat(), make_plain_mat()
    old = fit(make_plain_segment(), mat, 1, on - 9 * DAY)
    out = TakenOut(old, "worn")
    done = fit_segment(make_plain_segment(), mat, 1, by=by, on=on, fitted_on=on - DAY, out=out)
    return (
        call(delete_fitting, done.fitting, by=by, on=on, reason="never so"),
        call(fit_segment, old.segment, other, 1, by=by, on=on, fitted_on=on),
    )


def a_deleted_cable_is_fitted(by, on):
    segment = make_plain_segment()
    return (
        call(delete_segment, segment, by=by, on=on, reason="never so"),
        call(fit_segment, segment, make_plain_mat(), 1, by=by, on=on, fitted_on=on),
    )


def a_deleted_mat_is_planned(by, on):
    mat = make_plain_mat()
    return (
        call(delete_mat, mat, by=by, on=on, reason="never so"),
        call(log_event, event_ahead(on), {mat: PLANNED}, by=by, on=on),
    )


def a_deleted_event_gets_a_mat(by, on):
    event = event_ahead(on)
    return (
        call(delete_event, event, by=by, on=on, reason="never so"),
        call(log_event, event, {make_plain_mat(): PLANNED}, by=by, on=on),
    )


def two_delete_the_last_event_of_a_series(by, on):
    series = make_series(on + WEEK)
    first, second = (make_event(on + WEEK * number, series=series) for number in (1, 2))
    return (
        call(delete_event, first, by=by, on=on, reason="never so"),
        call(delete_event, second, by=by, on=on, reason="never so"),
    )


# accounts


def two_accounts_of_one_name(by, on):
    name = f"twin{Event.objects.count()}"
    return (
        call(add_person, name, "keeper", "muddy-hands-7", by=by),
        call(add_person, name.upper(), "keeper", "muddy-hands-7", by=by),
    )


def a_pool_without_a_keeper(by, on):
    change_role(make_person(f"other{type(by).objects.count()}"), "keeper", by=by)
    one, other = list(type(by).objects.filter(groups__name="keeper", is_active=True))[:2]
    for person in type(by).objects.filter(groups__name="keeper").exclude(pk__in=[one.pk, other.pk]):
        change_role(person, "visitor", by=by)
    return (call(change_role, one, "visitor", by=other), call(deactivate, other, by=one))


def log_new_and_repeat(name, mats, by, on):
    with transaction.atomic():
        log_and_repeat(add_event(by=by, name=name, starts_on=on), mats, by, on)


def log_and_repeat(event, mats, by, on):
    with transaction.atomic():
        log_event(event, dict.fromkeys(mats, PLANNED), by=by, on=on)
        repeat_event(
            event,
            every_weeks=2,
            until=event.starts_on + 4 * WEEK,
            by=by,
            on=on,
        )


def _scenarios():
    """The functions of this module that take (by, on) and nothing else."""
    functions = [act for act in vars(sys.modules[__name__]).values() if getattr(act, "__module__", "") == __name__]
    return [act for act in functions if list(inspect.signature(act).parameters) == ["by", "on"]]


SCENARIOS = _scenarios()
