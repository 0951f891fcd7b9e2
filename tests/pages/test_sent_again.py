"""An act says which row it saw and in which version: what came too late is refused, and can be sent again knowingly.

On every page and with every button somebody else is quicker: nothing is changed, what is there now is said, what was
typed stays, and the page that answers does what was asked.
"""

import html
import re
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import partial

import pytest
from addresses import CLOSED, FILES_OUT, address
from django.apps import apps
from django.contrib.auth.models import User
from django.db import transaction
from factories import (
    fit,
    make_batch,
    make_batch_value,
    make_cable_type,
    make_depot,
    make_event,
    make_fault,
    make_instrument,
    make_mat,
    make_note,
    make_person,
    make_photo,
    make_piece,
    make_piece_reading,
    make_price,
    make_reading,
    make_segment,
    make_series,
    make_usage_event,
    make_used_limits,
    say_of_bench_day,
)
from page_forms import form_in, forms_in

from fleet.figures import short_day
from fleet.models import Session
from fleet.services.fittings import TakenOut, fit_segment, take_out
from fleet.services.people import change_role, deactivate
from inspections.assessment.services import assess_pool
from inspections.models import Measurement
from inspections.policy.services import PolicyChange, change_policy
from inspections.records.contents import content_of, read_told
from inspections.records.services import make_record
from inspections.sampling.services import draw_sample
from inspections.workshop.services import raise_work_orders

# versions are compared in Python; two who send at the same moment: tests/test_interleavings.py
pytestmark = [pytest.mark.django_db, pytest.mark.alike]
WHY = "mistyped <then>"
MEANWHILE = "Somebody else changed this"


@dataclass(frozen=True)
class Act:
    """What one person opens and another changes meanwhile; `says`: what is there then, in words of the page."""

    page: str
    change: object
    says: str
    # where the form is sent; the page itself: None
    to: str | None = None
    typed: dict = field(default_factory=dict)


def corrected(row, **change):
    """(change, says): somebody corrects one value of the row."""

    def act():
        row.refresh_from_db()
        with transaction.atomic():
            row.correct(by=None, reason="seen meanwhile", **change)

    (value,) = change.values()
    return act, f"“{words(value)}” now"


def words(value):
    if isinstance(value, date):
        return f"{value.day} {value:%b %Y}"
    return f"{value:g}" if isinstance(value, float) else str(value)


@pytest.fixture
def mat():
    return make_mat("M-1", fitted=True)


@pytest.fixture
def series(today):
    return make_series(today, weeks=4)


@pytest.fixture
def event(mat, series, today):
    """Goes on today, the first week of a series."""
    event = make_event(today, code="E-1", series=series)
    make_usage_event(mat, event, state="planned")
    return event


def of_mat(**_):
    return make_mat("M-3"), "/mats/M-3/{}/", {"owner": "the quay"}


def of_segment(**_):
    return make_segment(serial="C-1"), "/cables/C-1/{}/", {"lot": "B"}


def of_cable_type(**_):
    return make_cable_type("thin"), "/cable-types/thin/{}/", {"spanner_mm": 8}


def of_price(**_):
    price = make_price(make_cable_type("thin"), 1.6)
    return price, f"/prices/{price.pk}/{{}}/", {"supplier_number": "A 7"}


def of_depot(**_):
    return make_depot("Quay"), "/depots/Quay/{}/", {"withdrawal_reason": "flooded"}


def of_design(mat, **_):
    return mat.design, f"/designs/{mat.design.code}/{{}}/", {"weight_kg": 9.0}


def of_position(mat, **_):
    position = mat.design.positions.get(number=1)
    return position, f"/designs/{mat.design.code}/positions/1/{{}}/", {"length_m": 0.7}


def of_free_position(**_):
    mat = make_mat("M-2")
    return mat.design.positions.get(number=1), f"/designs/{mat.design.code}/positions/1/{{}}/", {"length_m": 0.7}


def of_fitting(mat, **_):
    fitting = mat.fittings.get(position=1)
    return fitting, f"/cables/{fitting.segment.serial}/fittings/{fitting.pk}/{{}}/", {"fitted_basis": "about"}


def of_occupied_position(mat, **_):
    make_segment(0.6, "C-NEW", cable_type=mat.design.positions.get(number=1).cable_type)
    return mat.fittings.get(position=1), "/mats/M-1/positions/1/{}/", {"fitted_basis": "about"}


def of_fault(mat, **_):
    fault = make_fault(mat)
    return fault, f"/faults/{fault.pk}/{{}}/", {"what": "braid torn"}


def of_photo(mat, **_):
    photo = make_photo(make_fault(mat))
    return photo, f"/photos/{photo.pk}/{{}}/", {"sha256": "1" * 64}


def of_note(mat, **_):
    note = make_note(mat)
    return note, f"/notes/{note}/{{}}/", {"text": "drops on the right side"}


def of_event(event, **_):
    return event, "/events/E-1/{}/", {"weather": "rain"}


def of_usage(event, **_):
    return event.usage_events.get(), "/events/E-1/mats/M-1/{}", {"hours_out": 5.0}


def of_usage_of_fit_mats(event, mat, today, **_):
    make_mat("M-3", design=mat.design, fitted=True, fitted_on=today)
    return of_usage(event)


def of_series(event, series, **_):
    return series, f"/series/{series.pk}/{{}}/", {"name": "Canal runs"}


def of_instrument(**_):
    return make_instrument("bridge"), "/instruments/bridge/{}/", {"standard_uncertainty_db": 0.2}


def of_reading(mat, **_):
    reading = make_reading(mat.fittings.get(position=1).segment)
    return reading, f"/readings/{reading.pk}/{{}}/", {"note": "rain"}


def of_piece(**_):
    return make_piece("Q-ref"), "/bench/pieces/Q-ref/{}/", {"withdrawal_reason": "flooded"}


def of_agreed_value(**_):
    value = make_piece("Q-ref").values.get()
    return value, f"/agreed-values/{value.pk}/{{}}/", {"agreed_loss_db": 1.5}


def of_piece_reading(**_):
    reading = make_piece_reading(make_piece("Q-ref"))
    return reading, f"/piece-readings/{reading.pk}/{{}}/", {"loss_db": 1.5}


def of_bench_day(mat, today, **_):
    make_reading(mat.fittings.get(position=1).segment, measured_on=today)
    said = say_of_bench_day(today, looked_on=today, found="adapter", not_trusted_reason="lead")
    return said, f"/bench-days/{today}/0/{{}}/", {"found": "other adapter"}


def of_order(mat, today, **_):
    assess_pool(today)
    (order,) = raise_work_orders([mat.fittings.get(position=1).segment_id], by=None, on=today)
    return order, f"/work-orders/{order}/{{}}/", {"raised_on": today - timedelta(days=1)}


def of_batch(today, **_):
    batch = make_batch("B-1", instrument=make_instrument("bridge"))
    make_batch_value(batch)
    return batch, f"/batches/{batch}/{{}}/", {"temperature_c": 18.5}


def of_batch_value(today, **_):
    value = make_batch_value(make_batch("B-1"))
    return value, f"/batches/B-1/values/{value.pk}/{{}}/", {"serial": "X-7"}


def of_record(mat, today, **_):
    assess_pool(today)
    record = make_record(mat, content_of(read_told(mat, None, today)), by=None, on=today)
    return record, f"/records/{record}/{{}}/", {"made_for": "hill club"}


def of_sample(mat, today, **_):
    sample = draw_sample(by=None, on=today, seed=1, rule="typed", size=1)
    return sample, f"/samples/{sample}/{{}}/", {"note": "dry week"}


def of_used_limits(mat, today, **_):
    used = make_used_limits(mat.design, today)
    return used, f"{used.get_absolute_url()}{{}}/", {"due_after": 7}


OUT = {"reason": WHY, "goes": "back to the shelf"}
# made by `make`, corrected meanwhile; the address of the act, what is typed
PAGES = [
    (of_mat, "correct", {"owner": WHY}),
    (of_mat, "withdraw", {"reason": WHY}),
    (of_mat, "delete", {"reason": WHY}),
    (of_segment, "correct", {"lot": WHY}),
    (of_segment, "withdraw", {"reason": WHY}),
    (of_segment, "delete", {"reason": WHY}),
    (of_cable_type, "correct", {"reason": WHY, "velocity_factor": "0.7"}),
    (of_cable_type, "withdraw", {"reason": WHY}),
    (of_price, "correct", {"reason": WHY, "lead_time_days": "21"}),
    (of_price, "delete", {"reason": WHY}),
    (of_depot, "correct", {"reason": WHY, "name": "Quay 2"}),
    (of_depot, "withdraw", {"reason": WHY}),
    (of_design, "correct", {"reason": WHY, "width_m": "2.5"}),
    (of_design, "withdraw", {"reason": WHY}),
    (of_position, "correct", {"reason": WHY, "length_m": "0.9"}),
    (of_free_position, "delete", {"reason": WHY}),
    (of_fitting, "correct", {"reason": WHY, "fitted_on": "2025-02-01"}),
    (of_fitting, "delete", {"reason": WHY}),
    (of_occupied_position, "take-out", OUT),
    (of_occupied_position, "fit", {"segment": "C-NEW", **OUT}),
    (of_fault, "correct", {"what": WHY}),
    (of_fault, "end", {"reason": WHY, "end_reason": "repair"}),
    (of_photo, "take-off", {"reason": WHY}),
    (of_note, "correct", {"text": WHY}),
    (of_event, "correct", {"place": WHY}),
    (of_event, "delete", {"reason": WHY}),
    (of_usage, "", {"reason": WHY, "fold_cycles": "3"}),
    (of_usage_of_fit_mats, "instead/", {"mat": "M-3"}),
    (of_series, "end", {"reason": WHY}),
    (of_instrument, "correct", {"reason": WHY, "standard_uncertainty_db": "0.3"}),
    (of_instrument, "withdraw", {"reason": WHY}),
    (of_reading, "doubtful", {"reason": WHY}),
    (of_reading, "void", {"reason": WHY}),
    (of_piece, "correct", {"reason": WHY, "name": "Q-ref 2"}),
    (of_piece, "withdraw", {"reason": WHY}),
    (of_piece, "agree", {"agreed_loss_db": "1.6", "uncertainty_db": "0.02"}),
    (of_agreed_value, "correct", {"reason": WHY, "agreed_loss_db": "1.6"}),
    (of_piece_reading, "correct", {"reason": WHY, "loss_db": "1.6"}),
    (of_piece_reading, "delete", {"reason": WHY}),
    (of_bench_day, "looked", {"reason": WHY}),
    (of_bench_day, "not-trusted", {"reason": WHY}),
    (of_order, "withdraw", {"reason": WHY}),
    (of_batch, "correct", {"lot": WHY}),
    (of_batch, "end", {}),
    (of_batch_value, "strike", {"reason": WHY}),
    (of_record, "withdraw", {"reason": WHY}),
    (of_sample, "end", {"reason": WHY}),
    (of_sample, "withdraw", {"reason": WHY}),
    (of_used_limits, "take-back", {"reason": WHY}),
]


@pytest.mark.parametrize(("make", "act", "typed"), PAGES, ids=[f"{make.__name__}-{act}" for make, act, _ in PAGES])
def test_a_form_that_came_too_late_is_accepted_when_it_is_sent_again(
    make, act, typed, keeper_client, mat, series, event, today
):
    row, route, change = make(mat=mat, series=series, event=event, today=today)
    check_sent_again(keeper_client, Act(route.format(act), *corrected(row, **change), typed=typed))


@pytest.mark.parametrize("make", [of_mat, of_segment, of_cable_type, of_depot, of_design, of_instrument])
def test_so_is_one_that_takes_a_row_back_into_use(make, keeper_client, mat, today):
    row, route, change = make(mat=mat)
    type(row).objects.filter(pk=row.pk).update(withdrawn_on=today, withdrawal_reason="worn")
    act = Act(route.format("withdraw"), *corrected(row, **change), typed={"reason": WHY})
    check_sent_again(keeper_client, act)


def test_so_is_a_doubt_that_is_settled(keeper_client, mat):
    row, route, change = of_reading(mat)
    Measurement.objects.filter(pk=row.pk).update(doubt_reason="wet")
    check_sent_again(keeper_client, Act(route.format("doubtful"), *corrected(row, **change), typed={"reason": WHY}))


# --- another row has the place, the name or the answer meanwhile


def another_cable(mat, today):
    """Somebody changes the cable in position 1; what is said of it."""
    old = mat.fittings.get(position=1, removed_on=None)
    kind = mat.design.positions.get(number=1).cable_type
    hers = make_segment(0.6, "C-HERS", cable_type=kind)

    def act():
        fit_segment(hers, mat, 1, by=None, on=today, fitted_on=today, out=TakenOut(old, "worn"))

    return act


def taking_out_where_another_cable_is_now(mat, today, **_):
    says = f"Here is C-HERS in M-1 position 1 from {short_day(today)} now"
    return Act("/mats/M-1/positions/1/take-out/", another_cable(mat, today), says, typed=OUT)


def fitting_where_another_cable_is_now(mat, today, **_):
    of_occupied_position(mat)
    # on the same day, so that the one she fitted is out again on it
    return Act(
        "/mats/M-1/positions/1/fit/", another_cable(mat, today), "it now holds C-HERS", typed=OUT | {"segment": "C-NEW"}
    )


def fitting_where_nothing_is_now(mat, today, **_):
    row, route, _ = of_occupied_position(mat)
    put_away = {"by": None, "on": today, "removed_on": today, "reason": "worn"}
    return Act(route.format("fit"), lambda: take_out(row, **put_away), "it is empty now", typed={"segment": "C-NEW"})


def moving_a_cable_that_was_moved(mat, today, **_):
    """The tick *move it* was offered for where the cable was then."""
    first, second = make_mat("M-5", design=mat.design), make_mat("M-6", design=mat.design)
    segment = make_segment(1.1, "C-MOVES", cable_type=mat.design.positions.get(number=2).cable_type)
    fitting = fit(segment, first, 2, today - timedelta(days=9))
    given = {"by": None, "on": today, "fitted_on": today - timedelta(days=1)}
    typed = {"segment": "C-MOVES", "move": "on", "moves": str(fitting.pk)}
    return Act(
        "/mats/M-6/positions/2/fit/",
        lambda: fit_segment(segment, make_mat("M-7", design=second.design), 2, move=True, **given),
        "C-MOVES is in M-7 position 2",
        typed=typed,
    )


def planned_elsewhere(event):
    """Somebody plans one more mat."""
    other = make_mat("M-8")
    return lambda: make_usage_event(other, event, state="planned")


def over(event, today):
    days = {"starts_on": today - timedelta(days=3), "ends_on": today - timedelta(days=2)}
    type(event).objects.filter(pk=event.pk).update(**days)
    event.refresh_from_db()
    return event


BOTH = "M-1 planned, M-8 planned"


def answering_on_its_page(event, today, **_):
    over(event, today)
    to = "/events/E-1/answer/"
    return Act("/events/E-1/", planned_elsewhere(event), BOTH, to=to, typed={"state": "went"})


def answering_on_the_first_page(event, today, **_):
    over(event, today)
    return Act("/", planned_elsewhere(event), BOTH, to="/events/E-1/answer/", typed={"state": "went"})


def calling_off_what_is_over(event, today, **_):
    over(event, today)
    page = "/events/E-1/answer/?state=called+off"
    return Act(page, planned_elsewhere(event), BOTH, to="/events/E-1/answer/", typed={"state": "called off"})


def calling_off_an_event_that_moved(event, today, **_):
    later = today + timedelta(days=3)
    change, _ = corrected(event, ends_on=later)
    says = f"E-1 Run E-1 on {short_day(today)} to {short_day(later)}: M-1 planned"
    return Act(
        "/events/E-1/answer/?state=called+off", change, says, to="/events/E-1/answer/", typed={"state": "called off"}
    )


def a_loan_on_the_list(event, today, **_):
    over(event, today)
    event.usage_events.update(counts_for=4)
    typed = {"counts_for": "9", "basis": "reported"}
    return Act("/events/", planned_elsewhere(event), BOTH, to="/events/E-1/back/", typed=typed)


def a_loan_on_its_page(event, mat, today, **_):
    over(event, today)
    change, _ = corrected(event.usage_events.get(), counts_for=7)
    return Act("/events/E-1/back/", change, "M-1 planned", typed={f"mat{mat.pk}": "5", "basis": "reported"})


def repeating(event, today, **_):
    event.series = None
    event.save()
    typed = {"until": str(today + timedelta(days=21)), "every_weeks": "2"}
    return Act("/events/E-1/repeat/", planned_elsewhere(event), BOTH, typed=typed)


def the_rest_of_a_series(event, **_):
    return Act("/events/E-1/rest/", planned_elsewhere(event), BOTH, typed={"place": WHY})


def logging(event, today, **_):
    over(event, today)
    change, _ = corrected(event.usage_events.get(), state="called off")
    page = "/events/log/?event=E-1"
    typed = {"hours_out": "4", "mats": "M-1", "act": "log"}
    return Act(page, change, "M-1 called off", to="/events/log/", typed=typed)


def the_policy(keeper, today, **_):
    change = PolicyChange("accepted_risk", 0.07)

    def act():
        change_policy([change], by=keeper, on=today)

    return Act("/policy/", act, "to 7 %", typed={"pool.accepted_risk": "3", "reason": WHY})


def a_policy_value_set_anew(keeper, today, **_):
    """Cleared and set again: the value has the first version once more, and is another row."""

    def act():
        for value in (None, 0.07):
            change_policy([PolicyChange("accepted_risk", value)], by=keeper, on=today)

    change_policy([PolicyChange("accepted_risk", 0.06)], by=keeper, on=today)
    return Act("/policy/", act, "to 7 %", typed={"pool.accepted_risk": "3", "reason": WHY})


def days_of_work(keeper, today, **_):
    def act():
        change_policy([PolicyChange("cables_on_monday", 5)], by=keeper, on=today)

    typed = {"pool.cables_on_monday": "3", "reason": WHY}
    return Act("/calendar/work-days/", act, "to 5 cables", typed=typed)


def costs_of_work(keeper, today, **_):
    def act():
        change_policy([PolicyChange("hour_price", 5)], by=keeper, on=today)

    return Act("/lives/cost/", act, "to 5.00", typed={"pool.hour_price": "3", "reason": WHY})


def a_limit_of_a_position(mat, keeper, today, **_):
    change = PolicyChange("event_limit", 7, design=mat.design, position=2)

    def act():
        change_policy([change], by=keeper, on=today)

    typed = {f"design-{mat.design.pk}-position-2.event_limit": "9", "reason": WHY}
    return Act(f"/policy/designs/{mat.design.code}/", act, "to 7 events", typed=typed)


def a_role(**_):
    visitor = make_person("ottilie", role="visitor")
    to = "/people/ottilie/role/"
    says = "ottilie is bench hand now"
    return Act(ACCOUNT, lambda: change_role(visitor, "bench hand", by=None), says, to=to, typed={"role": "keeper"})


def a_password(keeper, **_):
    ottilie = make_person("ottilie", role="visitor")
    to = "/people/ottilie/password/"
    new = dict.fromkeys(("password", "again"), "dry-socks-44")
    return Act(ACCOUNT, lambda: deactivate(ottilie, by=keeper), "and is deactivated", to=to, typed=new)


def a_bench_day_of_which_nobody_had_said_anything(mat, today, **_):
    make_reading(mat.fittings.get(position=1).segment, measured_on=today)
    said = partial(say_of_bench_day, today, looked_on=today, found="adapter")
    return Act(f"/bench-days/{today}/0/not-trusted/", said, "adapter", typed={"reason": WHY})


def a_wet_mat_that_has_dried(mat, today, **_):
    fault = make_fault(mat, "wet", None, today)
    to = f"/faults/{fault.pk}/end/"
    return Act("/mats/M-1/", *corrected(fault, what="soaked"), to=to, typed={"end_reason": "dried"})


ACCOUNT = "/people/ottilie/account/"
TAKEN_OVER = [
    taking_out_where_another_cable_is_now,
    fitting_where_nothing_is_now,
    moving_a_cable_that_was_moved,
    answering_on_its_page,
    answering_on_the_first_page,
    calling_off_what_is_over,
    calling_off_an_event_that_moved,
    a_loan_on_the_list,
    a_loan_on_its_page,
    repeating,
    the_rest_of_a_series,
    logging,
    the_policy,
    a_policy_value_set_anew,
    a_limit_of_a_position,
    days_of_work,
    costs_of_work,
    a_role,
    a_password,
    a_bench_day_of_which_nobody_had_said_anything,
    a_wet_mat_that_has_dried,
]


@pytest.mark.parametrize("make", TAKEN_OVER)
def test_so_is_one_whose_place_or_mats_are_others_now(make, keeper_client, keeper, mat, series, event, today):
    check_sent_again(keeper_client, make(keeper=keeper, mat=mat, event=event, today=today))


def test_a_second_change_of_a_cable_on_one_day_names_the_cable_that_is_there(keeper_client, mat, event, today):
    act = fitting_where_another_cable_is_now(mat, today)
    late, answered = sent_too_late(keeper_client, act)
    assert "Where C-HERS goes" in text_of(late)
    assert answered["row"] == str(mat.fittings.get(removed_on=None, position=1).pk)


# --- buttons without a page of their own lead back to where they were pressed


def calling_one_mat_off(event, today, **_):
    change = corrected(event.usage_events.get(), counts_for=3)
    return Act("/events/E-1/", *change, to="/events/E-1/mats/M-1/call-off/")


def deactivating(**_):
    ottilie = make_person("ottilie", role="visitor")
    says = "ottilie is keeper now, and may sign in"
    return Act(ACCOUNT, lambda: change_role(ottilie, "keeper", by=None), says, to="/people/ottilie/deactivate/")


def reactivating(keeper, **_):
    ottilie = make_person("ottilie", role="visitor")
    deactivate(ottilie, by=keeper)
    says = "ottilie is keeper now, and is deactivated"
    return Act(ACCOUNT, lambda: change_role(ottilie, "keeper", by=None), says, to="/people/ottilie/reactivate/")


def saying_that_a_note_is_done(mat, **_):
    note, _, change = of_note(mat)
    return Act("/mats/M-1/", *corrected(note, **change), to=f"/notes/{note}/done/")


@pytest.mark.parametrize("make", [calling_one_mat_off, saying_that_a_note_is_done, deactivating, reactivating])
def test_a_button_pressed_too_late_says_so_and_can_be_pressed_again(make, keeper_client, keeper, mat, event, today):
    act = make(keeper=keeper, mat=mat, event=event, today=today)
    opened = form_in(keeper_client.get(act.page), act.to)
    act.change()
    before = everything()
    late = keeper_client.post(act.to, opened, follow=True)
    assert everything() == before
    assert MEANWHILE in text_of(late) and act.says in text_of(late)
    keeper_client.post(act.to, form_in(late, act.to))
    assert everything() != before


def test_calling_off_from_an_old_page_leaves_what_went_as_it_was_logged(keeper_client, mat, event):
    """The button is gone then: who knows better corrects the mat on its own page."""
    opened, usage = form_in(keeper_client.get("/events/E-1/"), CALL_OFF), event.usage_events.get()
    type(usage).objects.filter(pk=usage.pk).update(state="went", hours_out=6.0, version=2)
    keeper_client.post(CALL_OFF, opened)
    usage.refresh_from_db()
    assert (usage.state, usage.hours_out) == ("went", 6.0)
    assert form_in(keeper_client.get("/events/E-1/"), CALL_OFF) == {}


CALL_OFF = "/events/E-1/mats/M-1/call-off/"


# --- the act that is asked for does not turn into its opposite


@pytest.mark.parametrize(("withdrawn", "asked"), [(False, "withdraw"), (True, "return")])
def test_who_comes_late_with_an_act_that_is_done_does_not_undo_it(keeper_client, today, withdrawn, asked):
    mat = make_mat("M-3")
    states = [{"withdrawn_on": None, "withdrawal_reason": ""}, {"withdrawn_on": today, "withdrawal_reason": "worn"}]
    type(mat).objects.filter(pk=mat.pk).update(**states[withdrawn])
    opened = form_in(keeper_client.get("/mats/M-3/withdraw/"))
    assert opened["act"] == asked
    mat.refresh_from_db()
    with transaction.atomic():
        mat.correct(by=None, reason="she was first", **states[not withdrawn])
    late = keeper_client.post("/mats/M-3/withdraw/", opened | {"reason": WHY})
    again = keeper_client.post("/mats/M-3/withdraw/", form_in(late))
    mat.refresh_from_db()
    assert (late.status_code, bool(mat.withdrawn_on)) == (422, not withdrawn)
    assert "was withdrawn on" in text_of(again) or again.status_code == 302


def test_a_doubt_that_comes_late_settles_none(keeper_client, mat):
    row, route, _ = of_reading(mat)
    opened = form_in(keeper_client.get(route.format("doubtful")))
    Measurement.objects.filter(pk=row.pk).update(doubt_reason="wet", version=2)
    late = keeper_client.post(route.format("doubtful"), opened | {"reason": WHY})
    keeper_client.post(route.format("doubtful"), form_in(late))
    assert Measurement.objects.get(pk=row.pk).doubt_reason == WHY


# --- a name that was given to another row


NAMED = [of_mat, of_segment, of_cable_type, of_depot, of_design, of_instrument, of_piece]
ACTS = [(make, act) for make in NAMED for act in ("correct", "withdraw")] + [(of_event, "correct")]


@pytest.mark.parametrize(("make", "act"), ACTS)
def test_a_form_is_about_the_row_it_was_opened_for_though_another_has_its_name_now(
    make, act, keeper_client, mat, series, event
):
    row, route, _ = make(mat=mat, event=event)
    opened = form_in(keeper_client.get(route.format(act)))
    names_changed_hands(row)
    before = everything()
    late = keeper_client.post(route.format(act), opened | {"reason": WHY})
    assert (late.status_code, everything()) == (422, before)
    assert "your page showed another one" in text_of(late)


def names_changed_hands(row):
    """The row has another name, and a copy of it has its old one."""
    name = next(name for name in ("number", "serial", "code", "name") if hasattr(row, f"{name}_key"))
    old = getattr(row, name)
    setattr(row, name, f"{old}-old")
    row.save()
    row.pk, row._state.adding = None, True
    setattr(row, name, old)
    row.save()


# --- what no page shows


# forms that act on no row that is there. What adds one is refused by the name or number where that is taken.
ON_NO_ROW = {
    "/people/password/": "asks for the old password",
    "/people/sessions/end/": "names a browser by a key that is never given twice",
    "/policy/": "says what it saw of each value in `seen`",
    "/policy/designs/": "says what it saw of each value in `seen`",
    "/calendar/work-days/": "says what it saw of each value in `seen`",
    "/lives/cost/": "says what it saw of each value in `seen`",
    "/calendar/address/end/": "ends the one address that this account has, whichever that is",
    "/policy/assessing/": "assesses again what is there",
    "/renamed-codes/seen/": "only takes a notice away",
    "/events/log/": "says in `seen` what it saw of each mat",
    "/files/": "looks at files",
    "/copies/download/": "changes nothing",
    "/copies/send/": "looks at a back-up",
    "/copies/elsewhere/": "names the one folder there is, whichever that was",
    "/bench-days/": "says the first word of a bench day; of a later one it names row and version",
}
SEEN = ("row", "version")


def test_every_form_of_every_page_says_what_it_shows_or_adds_something(keeper_client, examples):
    """A form has a token and adds, or the row and version it acts on, or is named above with the reason."""
    silent = set()
    for name, route in CLOSED:
        page = None if name in FILES_OUT else keeper_client.get(address(route, examples))
        if page is not None and page["Content-Type"].startswith("text/html"):
            silent |= {action or page.request["PATH_INFO"] for action, form in forms_in(page) if says_nothing(form)}
    places = {re.sub("^(/policy/designs/|/bench-days/).+", r"\1", place) for place in silent}
    assert {place for place in places if not place.endswith("/add/")} <= set(ON_NO_ROW)


def says_nothing(form):
    sent = "csrfmiddlewaretoken" in form
    return sent and not all(form.get(name) for name in SEEN) and "token" not in form


# ---


def check_sent_again(client, act):
    _, answered = sent_too_late(client, act)
    before = everything()
    pressed = {name: value for name, value in act.typed.items() if name in PRESSED}
    assert client.post(act.to or act.page, answered | pressed).status_code == 302
    assert everything() != before


def sent_too_late(client, act):
    """(the page that answers, its form): nothing changed, what is there is said, what was typed stands in it."""
    to = act.to or act.page
    opened = form_in(client.get(act.page), act.to)
    assert opened
    act.change()
    before = everything()
    late = client.post(to, opened | act.typed)
    assert late.status_code == 422
    assert everything() == before
    assert act.says in text_of(late)
    answered = form_in(late, act.to) or form_in(late)
    kept = {name: value for name, value in act.typed.items() if name not in {*PRESSED, *RENEWED}}
    assert {name: answered.get(name) for name in kept} == kept
    return late, answered


# buttons and ticks, and passwords, which no page gives back
PRESSED = {"state", "act", "role", "goes", "mats", "mat", "move", "password", "again"}
# where a cable is moved from; one number for all mats, which stands in the field of each then
RENEWED = {"moves", "counts_for"}


def everything():
    """All rows of the pool and all accounts, as they are stored; not who is here just now."""
    models = [*apps.get_app_config("fleet").get_models(), *apps.get_app_config("inspections").get_models()]
    managed = [model for model in models if model._meta.managed and model is not Session]
    everywhere = [*managed, User, User.groups.through]
    return {model.__name__: sorted(map(repr, model._base_manager.values_list())) for model in everywhere}


def text_of(answer):
    return re.sub(r"\s+", " ", html.unescape(answer.content.decode()))
