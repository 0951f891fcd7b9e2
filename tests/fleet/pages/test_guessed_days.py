"""A guessed day of fitting stays a guess wherever it is printed."""

from datetime import date, timedelta

import pytest
from factories import fit, make_mat, make_plain_design, make_plain_segment
from page_forms import form_in
from page_words import words_in

from fleet.choices import FittedBasis
from fleet.parsing.approximate_dates import fitted_in_words

pytestmark = pytest.mark.django_db
LATEST = date(2022, 12, 31)
GUESS = "31 Dec 2022 or earlier"


@pytest.mark.parametrize(
    ("day", "basis", "said"),
    [
        (date(2023, 4, 3), FittedBasis.KNOWN, "3 Apr 2023"),
        (date(2023, 4, 15), FittedBasis.ABOUT, "about Apr 2023"),
        (date(2023, 7, 1), FittedBasis.ABOUT, "about 2023"),
        (date(2023, 4, 3), FittedBasis.ABOUT, "about 3 Apr 2023"),
        (LATEST, FittedBasis.NOT_LATER_THAN, GUESS),
    ],
)
def test_a_day_of_fitting_in_words(day, basis, said):
    assert fitted_in_words(day, basis) == said


@pytest.fixture
def mat():
    """Known not later than 2022: one cable in place, one that came out."""
    mat = make_mat("M-1", design=make_plain_design())
    guessed = {"fitted_basis": "not later than"}
    fit(make_plain_segment(serial="C-1"), mat, 1, LATEST, **guessed)
    fit(make_plain_segment(serial="C-OUT"), mat, 2, LATEST, date(2024, 5, 5), removal_reason="worn", **guessed)
    return mat


def text_of(client, place):
    return words_in(client.get(place).content.decode())


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("/mats/M-1/positions/1/fit/", f"It holds C-1 since {GUESS}. That cable"),
        ("/mats/M-1/positions/1/take-out/", f"Fitted {GUESS}. The position"),
        ("/mats/M-1/", f"2 C-OUT {GUESS} 5 May 2024"),
        ("/cables/C-1/", f"M-1 position 1 {GUESS} current"),
        ("/cables/C-OUT/", f"M-1 position 2 {GUESS} 5 May 2024"),
        ("/cables/", f"C-1 M-1 · 1 alike 1.00 {GUESS}"),
    ],
)
def test_no_page_turns_it_into_a_fact(keeper_client, mat, place, said):
    text = text_of(keeper_client, place)
    assert said in text
    assert text.count("31 Dec 2022") == text.count(GUESS) + text.count("on or before 31 Dec 2022")


def test_nor_does_the_trail(keeper_client, mat):
    fitting = mat.fittings.get(position=1)
    address = f"/cables/C-1/fittings/{fitting.pk}/correct/"
    changed = {"fitted_on": "2023-04-15", "fitted_basis": "about"}
    keeper_client.post(address, form_in(keeper_client.get(address)) | changed)
    for place in ("/cables/C-1/", "/mats/M-1/"):
        assert f"{GUESS} → about Apr 2023" in text_of(keeper_client, place)


def test_nor_does_a_refusal(keeper_client, mat, today):
    address = "/mats/M-1/positions/2/fit/"
    typed = {"segment": "C-1", "fitted_on": str(today - timedelta(days=1))}
    answer = keeper_client.post(address, form_in(keeper_client.get(address)) | typed)
    assert "C-1 is in M-1 position 1 since 31 Dec 2022 or earlier." in words_in(answer.content.decode())
