"""Depots and roles stay out of sight until there is a second one."""

import pytest
from factories import make_depot, make_mat, make_person

NAV = ">Depots</a>"


def page_of(client, place):
    return client.get(place).content.decode()


@pytest.mark.parametrize("depots", [0, 1])
def test_with_less_than_two_depots_no_list_names_them(keeper_client, depots):
    depot = [make_depot("Quay Street") for _ in range(depots)]
    make_mat("M-001", depot=depot[0] if depot else None)
    for place in ("/mats/", "/mats/M-001/", "/due/", "/"):
        page = page_of(keeper_client, place)
        assert NAV not in page, place
        assert 'name="depot"' not in page, place
        assert "no depot" not in page, place
    assert "Name the depots" in page_of(keeper_client, "/mats/")


def test_with_two_depots_navigation_filter_and_column_name_them(keeper_client):
    make_mat("M-001", depot=make_depot("Quay Street"))
    make_mat("M-002", depot=make_depot("Upper Mill"))
    page = page_of(keeper_client, "/mats/")
    assert NAV in page and 'name="depot"' in page
    assert "Upper Mill</td>" in page
    assert "Name the depots" not in page
    assert "Quay Street" in page_of(keeper_client, "/mats/M-001/")


def test_a_new_mat_is_asked_for_its_depot_once_there_is_one(keeper_client):
    assert 'name="depot"' not in page_of(keeper_client, "/mats/add/")
    make_depot("Quay Street")
    assert 'name="depot"' in page_of(keeper_client, "/mats/add/")


def test_roles_are_listed_from_the_second_account_on(keeper_client):
    assert ">Role" not in page_of(keeper_client, "/people/")
    make_person("tam", role="bench hand")
    assert ">Role" in page_of(keeper_client, "/people/")
