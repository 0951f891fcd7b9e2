"""A form that came too late, because somebody else changed the row, can be sent again knowingly on every page."""

from datetime import timedelta

import pytest
from django.db import transaction
from factories import (
    make_cable_type,
    make_depot,
    make_event,
    make_fault,
    make_instrument,
    make_mat,
    make_reading,
    make_segment,
    make_series,
    make_usage_event,
)
from page_forms import form_in

from inspections.assessment.services import assess_pool
from inspections.models import Measurement
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db
WHY = "mistyped <then>"


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


def of_depot(**_):
    return make_depot("Quay"), "/depots/Quay/{}/", {"name": "Quay"}


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
    return mat.fittings.get(position=1), "/mats/M-1/positions/1/{}/", {"fitted_basis": "about"}


def of_fault(mat, **_):
    fault = make_fault(mat)
    return fault, f"/faults/{fault.pk}/{{}}/", {"what": "braid torn"}


def of_event(event, **_):
    return event, "/events/E-1/{}/", {"weather": "rain"}


def of_usage(event, **_):
    return event.usage_events.get(), "/events/E-1/mats/M-1/{}", {"hours_out": 5.0}


def of_series(event, series, **_):
    return series, f"/series/{series.pk}/{{}}/", {"name": "Canal runs"}


def of_instrument(**_):
    return make_instrument("bridge"), "/instruments/bridge/{}/", {"standard_uncertainty_db": 0.2}


def of_reading(mat, **_):
    reading = make_reading(mat.fittings.get(position=1).segment)
    return reading, f"/readings/{reading.pk}/{{}}/", {"note": "rain"}


def of_order(mat, today, **_):
    assess_pool(today)
    (order,) = raise_work_orders([mat.fittings.get(position=1).segment_id], by=None, on=today)
    return order, f"/work-orders/{order}/{{}}/", {"raised_on": today - timedelta(days=1)}


def withdrawn(make, on):
    """As `make`, of a row that is out of use."""

    def made(**given):
        row, route, change = make(**given)
        type(row).objects.filter(pk=row.pk).update(withdrawn_on=on, withdrawal_reason="worn")
        return row, route, change

    return made


PAGES = [
    (of_mat, "correct", {"owner": WHY}),
    (of_mat, "withdraw", {"reason": WHY}),
    (of_segment, "correct", {"lot": WHY}),
    (of_segment, "withdraw", {"reason": WHY}),
    (of_cable_type, "correct", {"reason": WHY, "velocity_factor": "0.7"}),
    (of_cable_type, "withdraw", {"reason": WHY}),
    (of_depot, "correct", {"reason": WHY, "name": "Quay 2"}),
    (of_depot, "withdraw", {"reason": WHY}),
    (of_design, "correct", {"reason": WHY, "width_m": "2.5"}),
    (of_design, "withdraw", {"reason": WHY}),
    (of_position, "correct", {"reason": WHY, "length_m": "0.9"}),
    (of_free_position, "delete", {"reason": WHY}),
    (of_fitting, "correct", {"reason": WHY, "fitted_on": "2025-02-01"}),
    (of_occupied_position, "take-out", {"reason": WHY, "goes": "back to the shelf"}),
    (of_fault, "correct", {"what": WHY}),
    (of_fault, "end", {"reason": WHY, "end_reason": "repair"}),
    (of_event, "correct", {"place": WHY}),
    (of_event, "rest", {"place": WHY}),
    (of_usage, "", {"reason": WHY, "fold_cycles": "3"}),
    (of_series, "end", {"reason": WHY}),
    (of_instrument, "correct", {"reason": WHY, "standard_uncertainty_db": "0.3"}),
    (of_instrument, "withdraw", {"reason": WHY}),
    (of_reading, "doubtful", {"reason": WHY}),
    (of_reading, "void", {"reason": WHY}),
    (of_order, "withdraw", {"reason": WHY}),
]


@pytest.mark.parametrize(("make", "act", "typed"), PAGES, ids=[f"{make.__name__}-{act}" for make, act, _ in PAGES])
def test_a_form_that_came_too_late_is_accepted_when_it_is_sent_again(
    make, act, typed, keeper_client, mat, series, event, today
):
    row, route, change = make(mat=mat, series=series, event=event, today=today)
    check_sent_again(keeper_client, row, route.format(act), change, typed)


@pytest.mark.parametrize("make", [of_mat, of_segment, of_depot, of_instrument])
def test_so_is_one_that_takes_a_row_back_into_use(make, keeper_client, mat, today):
    row, route, change = withdrawn(make, today)(mat=mat)
    check_sent_again(keeper_client, row, route.format("withdraw"), change, {"reason": WHY})


def test_so_is_a_doubt_that_is_settled(keeper_client, mat):
    row, route, change = of_reading(mat)
    Measurement.objects.filter(pk=row.pk).update(doubt_reason="wet")
    check_sent_again(keeper_client, row, route.format("doubtful"), change, {"reason": WHY})


def check_sent_again(client, row, path, change, typed):
    opened = form_in(client.get(path))
    assert opened["version"] == "1"
    change_meanwhile(row, change)
    late = client.post(path, opened | typed)
    answered = form_in(late)
    assert (late.status_code, answered["version"]) == (422, "2")
    assert "Somebody else changed this meanwhile" in late.content.decode()
    assert {name: answered[name] for name in typed} == typed
    assert client.post(path, answered).status_code == 302


def change_meanwhile(row, change):
    row.refresh_from_db()
    with transaction.atomic():
        row.correct(by=None, reason="seen meanwhile", **change)
    type(row).objects.filter(pk=row.pk).update(version=2)
