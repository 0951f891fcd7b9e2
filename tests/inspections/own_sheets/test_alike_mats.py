"""A mat that one list of a keeper calls otherwise than another; and numbers that leave open which mat is meant."""

import pytest
from dropped_sheets import book_of, drop, store, stored, text_of
from page_forms import form_in

from fleet.models import Mat, UsageEvent
from inspections.own_sheets.reading.alike_mats import AlikeMats
from inspections.own_sheets.reading.known_selectors import KnownMat

SEASON = ["Date", "Event", "Mats"]


def known(*numbers):
    return AlikeMats([KnownMat(number, "") for number in numbers])


@pytest.mark.alike
@pytest.mark.parametrize(
    ("numbers", "name", "found"),
    [
        (["M-3", "M-4"], "M3", "M-3"),
        (["M3", "K3"], "m 003", "M3"),
        (["3", "4"], "M3", "3"),
        (["3", "4"], "Mat 3", "3"),
        (["3", "4"], "03", "3"),
        (["3", "M3"], "M3", "M3"),
        (["3", "4"], "K3", None),
        (["K-3", "K_3"], "K3", None),
        (["A-2", "B-2"], "2", None),
        (["M-3"], "M-33", None),
    ],
)
def test_a_mat_is_found_however_its_number_is_written_where_one_alone_is_meant(numbers, name, found):
    mat = known(*numbers).get(name)
    assert (mat and mat.number) == found


@pytest.mark.alike
def test_a_list_that_leaves_open_which_mats_it_means_is_offered_once_for_each_kind():
    mats = known("A-1", "A-2", "A-3", "B-1", "B-2", "K7")
    assert mats.choices("1-2, K-7 (wet)") == (["1", "2"], ["A-1, A-2, K-7 (wet)", "B-1, B-2, K-7 (wet)"])
    assert mats.choices("2, 3") == (["2"], ["A-2, 3", "B-2, 3"])
    assert mats.choices("A-1") == ([], [])


@pytest.mark.django_db
def test_a_later_list_may_write_the_numbers_in_its_own_way_and_the_page_says_so(keeper_client, today):
    stored(keeper_client, book_of(Mats=[["Mat", "Build"], ["M-3", "2m/2"], ["M-4", "2m/2"]]))
    owners = book_of(
        Mats=[["Mat", "Owner"], ["M3", "Reed Club"]], Season=[SEASON, ["03.05.2026", "Hill run", "M3, M 4"]]
    )
    address = drop(keeper_client, owners)
    assert "The sheet writes numbers of mats in another way than the pool: “M3” is M-3" in text_of(
        keeper_client.get(address)
    )
    store(keeper_client, address)
    assert dict(Mat.objects.values_list("number", "owner")) == {"M-3": "Reed Club", "M-4": ""}
    assert sorted(UsageEvent.objects.values_list("mat__number", flat=True)) == ["M-3", "M-4"]


@pytest.mark.django_db
def test_which_of_two_mats_is_meant_is_asked_and_chosen_on_the_page(keeper_client, today):
    mats = [["Mat", "Build"], *([f"{kind}-{number}", "2m/2"] for kind in "AB" for number in (1, 2))]
    stored(keeper_client, book_of(Mats=mats))
    address = drop(keeper_client, book_of(Season=[SEASON, ["03.05.2026", "Hill run", "1, 2"]]))
    page = keeper_client.get(address)
    assert "Which mat 1 is: A-1 or B-1" in text_of(page)
    pick = next(name for name in form_in(page) if name.startswith("pick-"))
    keeper_client.post(address, form_in(page) | {pick: "B-1, B-2"})
    assert "could not be read" not in text_of(keeper_client.get(address))
    store(keeper_client, address)
    assert sorted(UsageEvent.objects.values_list("mat__number", flat=True)) == ["B-1", "B-2"]
