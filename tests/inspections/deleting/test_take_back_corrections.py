"""What a load corrected in rows that were there is restored when it is taken back, or somebody is told why not."""

from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from invariant_rows import broken_rows
from invariants import days_are_those_of_usage, one_thing_at_a_time
from page_forms import form_in
from page_words import words_in
from pool_files import pool_files

from fleet.intake import Answer, Differing
from fleet.models import Depot, Fitting, Mat, MatDay, StockEntry
from fleet.selectors.trail import trail_of
from fleet.services.register import correct_mat
from inspections.deleting.load_selectors import taking_back
from inspections.deleting.load_services import take_back
from inspections.files.loading import load_pool_files
from inspections.files.saving import export_folder
from tests.fleet.test_intake_differing import EVERYTHING

pytestmark = pytest.mark.django_db
ON = date(2026, 11, 24)
REPLACE = Differing(Answer.REPLACE)
PRICES = "cable_type,length_m,design,price\nthin,0.6,,12.50\n"
MOVED = "mat,design,depot,owner\nM-1,four,North Shed,wren\n"


@pytest.fixture
def pool(keeper):
    load_pool_files(pool_files(prices=PRICES), by=keeper, on=ON, meant=True)


def load(keeper, **files):
    contents = {f"{name}.csv": text.encode() for name, text in files.items()}
    return load_pool_files(contents, by=keeper, on=ON, meant=True, differing=REPLACE)[1]


def exported(folder):
    export_folder(folder)
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def standing(load):
    return [standing.sentence for standing in taking_back(load).stands]


def page_of(load):
    return f"/files/loads/{load.pk}/take-back/"


def test_taken_back_the_pool_says_in_every_cell_what_it_said_before(pool, keeper, tmp_path):
    before = exported(tmp_path / "before")
    more = "segment,cable_type,length_m\nC-9,thin,1.1\n"
    stored = load(
        keeper, **EVERYTHING | {"segments": EVERYTHING["segments"] + more.partition("\n")[2].replace("1.1", "1.1,,")}
    )
    assert exported(tmp_path / "between") != before
    take_back(stored, by=keeper, on=ON, reason="wrong list")
    after = exported(tmp_path / "after")
    # what comes to the shelf and leaves it stands in a ledger that is only added to
    assert {name for name in before if before[name] != after[name]} <= {"stock.csv"}
    assert [*broken_rows(), *days_are_those_of_usage(ON), *one_thing_at_a_time(ON)] == []


def test_the_trail_says_who_restored_it_and_why(pool, keeper):
    stored = load(keeper, mats=MOVED)
    take_back(stored, by=keeper, on=ON, reason="wrong list")
    entries = trail_of(Mat.objects.get(number="M-1"))
    assert [entry.reason for entry in entries] == ["wrong list", str(stored), ""]
    assert Mat.objects.get(number="M-1").depot.name == "Quay Street"
    assert not Depot.objects.filter(name="North Shed").exists()


def test_what_was_changed_again_since_stands_against_it(pool, keeper):
    stored = load(keeper, mats=MOVED)
    mat = Mat.objects.get(number="M-1")
    correct_mat(mat, by=keeper, on=ON, owner="the club")
    assert standing(stored) == ["M-1: changed since."]
    with pytest.raises(ValidationError, match="Nothing is taken back"):
        take_back(stored, by=keeper, on=ON, reason="wrong")
    correct_mat(mat, by=keeper, on=ON, owner="wren")
    assert standing(stored) == []


def test_what_was_changed_in_another_field_since_stays_so(pool, keeper):
    stored = load(keeper, mats="mat,design,owner\nM-1,four,wren\n")
    correct_mat(Mat.objects.get(number="M-1"), by=keeper, on=ON, acquired_on=date(2024, 1, 9))
    take_back(stored, by=keeper, on=ON, reason="wrong")
    assert Mat.objects.filter(number="M-1", owner="pool", acquired_on=date(2024, 1, 9)).exists()


def test_of_two_loads_that_corrected_a_cell_the_later_goes_first(pool, keeper):
    first, second = load(keeper, mats=MOVED), load(keeper, mats=MOVED.replace("wren", "tam"))
    assert standing(first) == ["M-1: changed since."]
    take_back(second, by=keeper, on=ON, reason="wrong")
    take_back(first, by=keeper, on=ON, reason="wrong")
    assert Mat.objects.get(number="M-1").owner == "pool"


def test_a_place_that_was_taken_since_keeps_the_load_and_is_named(pool, keeper):
    out = "segment,fitted_on,mat,position,removed_on,removal_reason\nC-1,2024-02-01,M-1,1,2025-08-01,worn\n"
    stored = load(keeper, fittings=out)
    load(keeper, fittings="segment,fitted_on,mat,position\nC-3,2025-08-01,M-1,1\n")
    assert standing(stored) == [
        "C-3 in M-1 position 1 from 1 Aug 2025: it took the place of what came out by this load."
    ]
    with pytest.raises(ValidationError, match="Nothing is taken back"):
        take_back(stored, by=keeper, on=ON, reason="wrong")
    assert Fitting.objects.get(segment__serial="C-1").removed_on == date(2025, 8, 1)


def test_days_are_taken_again_as_they_were_before(pool, keeper):
    days = list(MatDay.objects.order_by("day").values_list("day", "planned"))
    stored = load(keeper, events="event,name,starts_on,ends_on\nE-3,Gravel ride,2028-06-03,2028-06-03\n")
    assert MatDay.objects.filter(day=date(2028, 6, 3)).exists()
    take_back(stored, by=keeper, on=ON, reason="wrong")
    assert list(MatDay.objects.order_by("day").values_list("day", "planned")) == days


def test_an_event_that_others_were_planned_around_stays_where_the_load_put_it(pool, keeper):
    stored = load(keeper, events="event,name,starts_on,ends_on\nE-3,Gravel ride,2028-06-03,2028-06-03\n")
    load(
        keeper,
        events="event,name,starts_on,ends_on\nE-9,Mill run,2028-05-03,2028-05-03\n",
        usage="event,mat,state\nE-9,M-1,planned\n",
    )
    with pytest.raises(ValidationError, match="M-1 is planned for E-9 Mill run on 3 May 2028"):
        take_back(stored, by=keeper, on=ON, reason="wrong")
    assert MatDay.objects.filter(day=date(2028, 6, 3)).exists()


def test_the_shelf_follows_there_and_back(pool, keeper):
    out = "segment,fitted_on,mat,position,removed_on,removal_reason\nC-1,2024-02-01,M-1,1,2025-08-01,worn\n"
    stored = load(keeper, fittings=out)
    lying = StockEntry.objects.filter(segment__serial="C-1")
    assert sum(lying.values_list("change", flat=True)) == 1
    take_back(stored, by=keeper, on=ON, reason="wrong")
    assert sum(lying.values_list("change", flat=True)) == 0


def test_the_pages_say_what_was_corrected_and_what_is_restored(pool, keeper, keeper_client):
    stored = load(keeper, mats=MOVED)
    page = words_in(keeper_client.get(f"/files/loads/{stored.pk}/").content.decode())
    assert "What it corrected" in page and "1 mat" in page
    question = keeper_client.get(page_of(stored))
    assert "These say again what they said before: 1 mat" in words_in(question.content.decode())
    keeper_client.post(page_of(stored), form_in(question) | {"reason": "wrong"})
    assert Mat.objects.get(number="M-1").owner == "pool"


def test_taking_back_asks_as_often_for_many_corrected_rows_as_for_two(pool, keeper):
    def queries(numbers):
        rows = "".join(f"X-{number},four,\n" for number in numbers)
        load(keeper, mats="mat,design,owner\n" + rows)
        stored = load(keeper, mats="mat,design,owner\n" + rows.replace(",\n", ",wren\n"))
        with CaptureQueriesContext(
            connection,
        ) as asked:
            take_back(stored, by=keeper, on=ON, reason="wrong")
        return len(asked)

    assert queries(range(2)) == queries(range(10, 50))
