"""Passwords that are guessed first are refused with the reason, wherever one is chosen."""

import pytest
from conftest import signed_in
from django.contrib.auth.models import User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from fleet.password_validators import (
    BLANKS,
    COMMON,
    IN_A_ROW,
    ONE_CHARACTER,
    ONLY_DIGITS,
    TOO_LONG,
    TOO_SHORT,
    check_not_endless,
)
from fleet.services.people import add_person, set_password
from inspections.demo.accounts import ACCOUNTS


def reasons(password, name="ottilie"):
    try:
        validate_password(password, User(username=name))
    except ValidationError as refusal:
        return refusal.messages
    return []


def little_else(name):
    return f"This password is “{name}” and little else. Write other words."


@pytest.mark.parametrize(
    ("password", "said"),
    [
        ("mud-7", [TOO_SHORT]),
        ("muddy-hands-" * 11, [TOO_LONG]),
        ("        ", [BLANKS]),
        ("mmmmmmmMMMMMMM", [ONE_CHARACTER]),
        ("2026-11-27", [ONLY_DIGITS]),
        ("ottilie-99", [little_else("ottilie")]),
        ("Halfpower-26", [little_else("halfpower")]),
        ("halfpower-password", [little_else("halfpower")]),
        ("Password", [little_else("password"), COMMON]),
        ("abcdefgh", [IN_A_ROW, COMMON]),
        ("hgfedcba!", [IN_A_ROW]),
        ("12345678", [IN_A_ROW, COMMON]),
        ("abcd-1234-qwer", [IN_A_ROW]),
        ("Qwertyuiop", [IN_A_ROW, COMMON]),
        ("letmein1", [COMMON]),
        ("", [TOO_SHORT, BLANKS]),
    ],
)
def test_a_weak_password_is_refused_with_each_reason(password, said):
    assert reasons(password) == said


@pytest.mark.parametrize(
    "password",
    [
        "muddy-hands-7",
        "wet-gloves-9",
        "ottilie-has-muddy-hands",
        "overstuffed",
        "ünter-wéx",
        "!?.;:,)(",
        "muddy hands",
        "x" + "y" * 7 + "-mud",
    ],
)
def test_other_words_are_taken(password):
    assert reasons(password) == []


def test_a_name_of_two_letters_forbids_nothing():
    assert reasons("abbey-road", "ab") == []


@pytest.mark.parametrize("account", ACCOUNTS, ids=lambda account: account.name)
def test_the_passwords_of_the_demo_are_taken(account):
    assert reasons(account.password, account.name) == []


def test_a_password_of_a_book_is_judged_at_once():
    assert reasons("muddy-hands-7" * 100_000) == [TOO_LONG]
    with pytest.raises(ValidationError, match="Write at most 1024 characters; this has 1025"):
        check_not_endless("x" * 1025)


def test_every_way_to_a_new_password_asks_the_same(keeper, visitor):
    for act in (
        lambda: add_person("ottilie", "visitor", "halfpower", by=keeper),
        lambda: set_password(visitor, "halfpower", by=keeper),
    ):
        with pytest.raises(ValidationError, match="This password is “halfpower” and little else"):
            act()
    sent = {"old_password": "muddy-hands-7", "new_password1": "halfpower", "new_password2": "halfpower"}
    answer = signed_in(visitor).post("/people/password/", sent)
    assert answer.status_code == 422
    assert little_else("halfpower") in answer.content.decode()


def test_a_weak_password_from_before_still_signs_in(client, visitor):
    visitor.set_password("halfpower")
    visitor.save()
    assert client.post("/sign-in/", {"username": "visitor", "password": "halfpower"}).status_code == 302
