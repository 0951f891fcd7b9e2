"""What was renamed when the database was brought up to date stands on the first page until somebody has seen it."""

import pytest
from factories import make_depot, make_instrument, make_mat
from page_words import words_in

from fleet.models import RenamedCode
from fleet.services.register import correct_mat

pytestmark = pytest.mark.django_db
RENAMED = "mat m-1 (2) was m-1, but M-1 came first"


@pytest.fixture
def renamed():
    mat = make_mat("m-1 (2)")
    rows = [("fleet.mat", mat, "m-1", "M-1"), ("fleet.depot", make_depot("quay (2)"), "quay", "Quay")]
    rows += [("inspections.instrument", make_instrument("Ü (3)"), "Ü", "ü")]
    for model, row, was, same_as in rows:
        RenamedCode.objects.create(model=model, row_id=row.pk, was=was, now=row.code_text, same_as=same_as)
    return mat


def text_of(client):
    return words_in(client.get("/").content.decode())


def test_each_renamed_code_is_named_with_what_it_was(visitor_client, renamed):
    text = text_of(visitor_client)
    assert "3 codes changed." in text
    assert f"{RENAMED}. depot quay (2) was quay, but Quay came first. instrument Ü (3) was Ü, but ü came first." in text
    assert 'href="/mats/m-1%20(2)/"' in visitor_client.get("/").content.decode()
    assert "I have seen this" not in text


def test_an_account_is_told_to_sign_in_with_its_new_name(visitor_client, keeper):
    values = {"was": "Keeper", "now": keeper.username, "same_as": "KEEPER"}
    RenamedCode.objects.create(model="auth.user", row_id=keeper.pk, **values)
    said = "account keeper was Keeper, but KEEPER came first. Sign in with the new name."
    assert said in text_of(visitor_client)


def test_they_stand_there_until_the_keeper_has_seen_them(keeper_client, bench_client, renamed):
    assert bench_client.post("/renamed-codes/seen/").status_code == 403
    assert RENAMED in text_of(keeper_client) and "I have seen this" in text_of(keeper_client)
    answer = keeper_client.post("/renamed-codes/seen/")
    assert (answer.status_code, answer.url) == (302, "/")
    assert "Codes that changed" not in text_of(keeper_client)


def test_a_code_corrected_since_is_no_longer_named(keeper_client, keeper, today, renamed):
    correct_mat(renamed, by=keeper, on=today, number="M-7")
    text = text_of(keeper_client)
    assert "2 codes changed" in text and "m-1" not in text


def test_they_are_seen_by_an_act_and_not_by_looking(keeper_client, renamed):
    assert keeper_client.get("/renamed-codes/seen/").status_code == 405
    assert RenamedCode.objects.count() == 3
