"""Mats first, the keeper's own cables of the same positions later: what the app made up makes room for them."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from dropped_sheets import book_of, drop, store, stored, take_back, text_of

from fleet.models import CableSegment, Fitting
from inspections.models import Measurement

pytestmark = pytest.mark.django_db

MATS = [["Mat", "Build", "Cables last changed"], [1, "2m/3", "2023"], [2, "2m/3", "?"]]
CABLES = [
    ["Serial", "Mat", "Position", "Length", "Fitted"],
    ["K-11", 1, 1, 3.2, "03.05.2023"],
    ["K-12", 1, 2, 3.6, "May 2022"],
    ["K-21", 2, 1, 3.2, "2021"],
    ["K-22", 2, 2, 3.6, ""],
]


@pytest.fixture
def mats(keeper_client, today):
    return stored(keeper_client, book_of(Mats=MATS))


def in_positions():
    """{(mat, position): [(serial, length, fitted on, basis)]} of all that is or was there."""
    rows = Fitting.objects.order_by("fitted_on").values_list(
        "mat__number", "position", "segment__serial", "segment__length_m", "fitted_on", "fitted_basis"
    )
    found = {}
    for mat, position, *cable in rows:
        found.setdefault((mat, position), []).append(tuple(cable))
    return found


def test_cables_that_the_app_made_become_those_of_the_sheet(keeper_client, mats):
    before = in_positions()
    address = drop(keeper_client, book_of(Cables=CABLES))
    said = text_of(keeper_client.get(address))
    made = before["1", 1][0][0]
    assert "Of 4 cables that the app made nothing else is known, and the sheet names others in their places" in said, (
        said
    )
    assert f"{made} is K-11" in said
    # one is fitted as it was made
    assert "7 corrections" in said, said
    store(keeper_client, address)
    now = in_positions()
    assert now["1", 1] == [("K-11", 3.2, date(2023, 5, 3), "known")]
    assert now["1", 2] == [("K-12", 3.6, date(2022, 5, 15), "about")]
    assert now["2", 1] == [("K-21", 3.2, date(2021, 7, 1), "about")]
    assert now["2", 2] == [("K-22", 3.6, *before["2", 2][0][2:])]
    assert (now["1", 3], now["2", 3]) == (before["1", 3], before["2", 3])
    assert CableSegment.objects.count() == 6
    cable = CableSegment.objects.get(serial="K-11")
    assert CableSegment.objects.named("k-11").get() == cable
    assert (cable.serial_basis, cable.length_basis) == ("own", "known")
    trail = cable.history.order_by("history_id")
    assert [state.serial for state in trail] == [made, "K-11"]
    assert trail.last().history_change_reason.startswith("Load of")


def test_taking_the_cables_back_restores_what_the_app_made_and_they_may_come_again(keeper_client, mats):
    before = in_positions()
    cables = stored(keeper_client, book_of(Cables=CABLES))
    again = drop(keeper_client, book_of(Cables=CABLES))
    assert "Nothing new" in text_of(keeper_client.get(again))
    assert take_back(keeper_client, cables)
    assert in_positions() == before
    stored(keeper_client, book_of(Cables=CABLES))
    assert in_positions()["1", 1] == [("K-11", 3.2, date(2023, 5, 3), "known")]
    assert not take_back(keeper_client, mats), "a cable of the sheet stands in a mat of the first load"


def test_readings_of_the_position_stay_with_the_cable_that_the_sheet_names(keeper_client, mats):
    readings = [["Mat", "Position", "Date", "Loss dB"], [1, 1, "10.06.2024", 1.9]]
    stored(keeper_client, book_of(Readings=readings))
    stored(keeper_client, book_of(Cables=CABLES))
    assert Measurement.objects.get().segment.serial == "K-11"


def test_what_somebody_said_of_a_cable_keeps_it_from_making_room(keeper_client, keeper, mats):
    fitting = Fitting.objects.get(mat__number="1", position=1)
    fitting.correct(by=keeper, reason="seen", fitted_on=date(2023, 6, 1), fitted_basis="known")
    address = drop(keeper_client, book_of(Cables=CABLES))
    said = text_of(keeper_client.get(address))
    assert f"{fitting.segment.serial} is K-11" not in said
    assert "1 thing does not fit" in said and f"{fitting.segment.serial} in mat 1 position 1" in said, said


def test_a_cable_fitted_after_the_one_that_the_app_made_took_its_place(keeper_client, mats):
    made = in_positions()["1", 1][0][0]
    stored(keeper_client, book_of(Cables=[CABLES[0], ["K-11", 1, 1, 3.2, "03.05.2025"]]))
    there = in_positions()["1", 1]
    assert [(serial, day) for serial, _, day, _ in there] == [(made, date(2023, 7, 1)), ("K-11", date(2025, 5, 3))]


def test_the_page_asks_as_much_of_the_database_for_many_such_cables(keeper_client, today):
    asked = []
    for number in (1, 11):
        mats = [MATS[0], *([number + more, "2m/3", "2023"] for more in range(number))]
        stored(keeper_client, book_of(Mats=mats))
        rows = [[f"K-{mat}-{place}", mat, place, 3.2, "2022"] for mat, *_ in mats[1:] for place in (1, 2, 3)]
        address = drop(keeper_client, book_of(Cables=[CABLES[0], *rows]))
        keeper_client.get(address)
        with CaptureQueriesContext(connection) as found:
            store(keeper_client, address)
        asked.append(len(found))
    assert asked[0] >= asked[1] - 2, asked
