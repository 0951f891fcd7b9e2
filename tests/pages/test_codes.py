"""Every form that takes a code refuses one that is taken, in any capitals, at its field, with what was typed."""

import pytest
from django.urls import reverse
from factories import make_cable_type, make_depot, make_design, make_event, make_instrument, make_mat, make_segment

from fleet.models import CableSegment, CableType, Depot, Event, Mat, MatDesign
from inspections.models import Instrument

pytestmark = pytest.mark.django_db


def mat():
    make_mat("Ü-M-1")
    return {"number": "ü-m-1", "design": make_design().code, "cables": "new"}


def segment():
    made = make_segment(serial="Ü-M-1")
    return {"serial": "ü-m-1", "cable_type": made.cable_type.name, "length_m": "1.1"}


def design():
    made = make_design("Ü-M-1")
    return {"code": "ü-m-1", "lengths_m": "0.6", "cable_type": made.positions.first().cable_type.name}


def cable_type():
    make_cable_type("Ü-M-1")
    return {"name": "ü-m-1", "db_per_m_400mhz": "0.4", "db_per_m_1000mhz": "0.6"}


def depot():
    make_depot("Ü-M-1")
    return {"name": "ü-m-1"}


def instrument():
    make_instrument("Ü-M-1")
    return {"name": "ü-m-1", "standard_uncertainty_db": "0.1"}


def event():
    make_event(code="Ü-M-1")
    return {
        "code": "ü-m-1",
        "name": "Hill run",
        "starts_on": "2026-08-01",
        "token": "2f0cb9cb-43ab-4cb7-93a7-5b4bd42f3f0c",
    }


FORMS = [
    ("fleet:mat-add", Mat, mat),
    ("fleet:segment-add", CableSegment, segment),
    ("fleet:design-add", MatDesign, design),
    ("fleet:cable-type-add", CableType, cable_type),
    ("fleet:depot-add", Depot, depot),
    ("fleet:event-add", Event, event),
    ("inspections:instrument-add", Instrument, instrument),
]
CORRECTIONS = [
    ("fleet:mat-correct", make_mat, "number", {"design": lambda row: row.design.code}),
    ("fleet:depot-correct", make_depot, "name", {}),
    (
        "fleet:event-correct",
        lambda code: make_event(code=code),
        "code",
        {"name": lambda row: row.name, "starts_on": lambda row: f"{row.starts_on:%Y-%m-%d}"},
    ),
    ("inspections:instrument-correct", make_instrument, "name", {"standard_uncertainty_db": lambda row: "0.2"}),
]


@pytest.mark.parametrize(("address", "model", "values"), FORMS, ids=[name for name, *_ in FORMS])
def test_a_taken_code_is_refused_when_something_is_added(keeper_client, address, model, values):
    form = values()
    before = model.objects.count()
    answer = keeper_client.post(reverse(address), form)
    page = answer.content.decode()
    assert (answer.status_code, model.objects.count()) == (422, before)
    code = next(iter(form))
    assert answer.context["form"].errors[code] == ["There is Ü-M-1 already. Write another one."]
    assert 'value="ü-m-1"' in page


@pytest.mark.parametrize(("address", "make", "code", "more"), CORRECTIONS, ids=[name for name, *_ in CORRECTIONS])
def test_a_taken_code_is_refused_when_something_is_corrected(keeper_client, address, make, code, more):
    make("Ü-M-1")
    row = make("other")
    form = {code: "ü-m-1", "version": 1} | {name: value(row) for name, value in more.items()}
    answer = keeper_client.post(reverse(address, args=["other"]), form)
    assert answer.status_code == 422
    assert answer.context["form"].errors[code] == ["There is Ü-M-1 already. Write another one."]
    assert 'value="ü-m-1"' in answer.content.decode()
    row.refresh_from_db()
    assert (getattr(row, code), row.version) == ("other", 1)


@pytest.mark.parametrize(("address", "make", "code", "more"), CORRECTIONS, ids=[name for name, *_ in CORRECTIONS])
def test_a_code_may_get_other_capitals(keeper_client, address, make, code, more):
    row = make("Ü-M-1")
    form = {code: "ü-m-1", "version": 1} | {name: value(row) for name, value in more.items()}
    assert keeper_client.post(reverse(address, args=["Ü-M-1"]), form).status_code == 302
    row.refresh_from_db()
    assert getattr(row, code) == "ü-m-1"
