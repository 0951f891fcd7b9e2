"""When a mat was bought, roughly or to the day: typed, shown, corrected, and kept in files."""

from datetime import date

import pytest
from factories import make_design, make_mat
from page_forms import form_in
from page_words import words_in

from fleet.models import Mat

pytestmark = pytest.mark.django_db


def text_of(response):
    return words_in(response.content.decode())


@pytest.mark.parametrize(
    ("typed", "stored", "shown"),
    [
        ("05/2024", (date(2024, 5, 15), "about"), "about May 2024"),
        ("spring 2023", (date(2023, 4, 16), "about"), "about spring 2023"),
        ("2024-05-02", (date(2024, 5, 2), "known"), "2 May 2024"),
        ("", (None, "known"), "not recorded"),
    ],
)
def test_a_mat_is_added_with_the_day_it_was_bought_as_it_is_known(keeper_client, typed, stored, shown):
    make_design("four", [0.5])
    values = form_in(keeper_client.get("/mats/add/")) | {"number": "M-1", "design": "four", "acquired_on": typed}
    assert keeper_client.post("/mats/add/", values | {"cables": "new"}).status_code == 302
    mat = Mat.objects.get()
    assert (mat.acquired_on, mat.acquired_basis) == stored
    assert f"Acquired {shown}" in text_of(keeper_client.get("/mats/M-1/"))
    if typed:
        fitting = mat.fittings.get()
        assert (fitting.fitted_on, fitting.fitted_basis) == stored


def test_a_rough_day_is_corrected_and_the_trail_says_both_as_they_were_known(keeper_client):
    make_mat("M-1", acquired_on=date(2022, 7, 1), acquired_basis="about")
    values = form_in(keeper_client.get("/mats/M-1/correct/"))
    assert values["acquired_on"] == "about 2022"
    keeper_client.post("/mats/M-1/correct/", values | {"acquired_on": "March 2022"})
    mat = Mat.objects.get()
    assert (mat.acquired_on, mat.acquired_basis) == (date(2022, 3, 15), "about")
    said = text_of(keeper_client.get("/mats/M-1/"))
    assert "about 2022" in said
    assert "about Mar 2022" in said


def test_a_day_that_stays_is_kept_whatever_it_is(keeper_client):
    """One of an older version, and one of which it is not on record how roughly it is known."""
    for number, day in (("M-1", date(26, 5, 2)), ("M-2", date(2024, 5, 7))):
        make_mat(number, acquired_on=day, acquired_basis="about")
        values = form_in(keeper_client.get(f"/mats/{number}/correct/")) | {"owner": "the club"}
        assert keeper_client.post(f"/mats/{number}/correct/", values).status_code == 302
        mat = Mat.objects.get(number=number)
        assert (mat.owner, mat.acquired_on, mat.acquired_basis) == ("the club", day, "about")


@pytest.mark.parametrize(("typed", "said"), [("2087", "in the future"), ("summer", "can be any year")])
def test_a_day_that_cannot_be_is_refused_and_stays_in_the_form(keeper_client, typed, said):
    make_mat("M-1")
    values = form_in(keeper_client.get("/mats/M-1/correct/")) | {"acquired_on": typed}
    refused = keeper_client.post("/mats/M-1/correct/", values)
    assert refused.status_code == 422
    assert said in text_of(refused)
    assert typed in refused.content.decode()
