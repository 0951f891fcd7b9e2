"""Accounts whose passwords everybody can read let nobody in from other computers."""

import pytest
from django.contrib.auth.models import User
from django.test import Client
from factories import make_person

from fleet.services.people import add_person, deactivate, reactivate, set_password
from inspections.demo.accounts import ACCOUNTS, make_accounts, switch_off_accounts, switch_on_accounts
from inspections.management.demo_accounts import switch_off_if_reached, switch_on_if_not_reached

pytestmark = pytest.mark.django_db
NAMES = [account.name for account in ACCOUNTS]
ELSEWHERE = "192.168.1.20"


@pytest.fixture
def demo_accounts():
    make_accounts()


def who_may_sign_in():
    return sorted(User.objects.filter(is_active=True).values_list("username", flat=True))


def sign_in(name, password, **sender):
    return Client(**sender).post("/sign-in/", {"username": name, "password": password})


def test_those_with_a_printed_password_are_switched_off_and_no_others(demo_accounts):
    set_password(User.objects.get(username="tam"), "my-own-word-3", by=None)
    make_person("mira")
    assert switch_off_accounts() == ["ida", "odo", "wren"]
    assert who_may_sign_in() == ["mira", "tam"]
    assert switch_off_accounts() == []


def test_whoever_is_signed_in_with_one_is_so_no_longer(demo_accounts):
    client = Client()
    client.force_login(User.objects.get(username="ida"))
    assert client.get("/mats/").status_code == 200
    switch_off_accounts()
    assert client.get("/mats/").status_code == 302
    switch_on_accounts()
    assert client.get("/mats/").status_code == 302


def test_the_trail_says_why_and_that_a_command_did_it(demo_accounts, keeper_client):
    switch_off_accounts()
    page = keeper_client.get("/people/ida/account/")
    row = next(iter(page.context["changes"].paginated_rows))
    assert row.get_cell_value("act") == "Deactivated: everybody can read its password"
    assert row.get_cell_value("changed_by") == "a command on the pool’s computer"


def test_they_are_switched_on_again_but_not_what_a_keeper_deactivated(demo_accounts, keeper):
    deactivate(User.objects.get(username="tam"), by=keeper)
    switch_off_accounts()
    # switched off, on, and off again by a keeper
    reactivate(User.objects.get(username="wren"), by=keeper)
    deactivate(User.objects.get(username="wren"), by=keeper)
    assert switch_on_accounts() == ["ida", "odo"]
    assert who_may_sign_in() == ["ida", "keeper", "odo"]
    assert switch_on_accounts() == []
    assert sign_in("ida", "peat-lane-keeper").url == "/"


@pytest.mark.parametrize("is_reached", [True, False])
def test_the_commands_do_it_where_other_computers_reach_the_pool_and_undo_it_where_none_does(
    demo_accounts, settings, is_reached
):
    said = []
    settings.IS_REACHED_BY_OTHERS = is_reached
    switch_off_if_reached(said.append)
    assert who_may_sign_in() == ([] if is_reached else sorted(NAMES))
    settings.IS_REACHED_BY_OTHERS = not is_reached
    switch_on_if_not_reached(said.append)
    assert who_may_sign_in() == sorted(NAMES)
    assert len(said) == (2 if is_reached else 0)
    assert all("ida, tam, odo, wren" in line for line in said)


@pytest.mark.parametrize(
    "sender",
    [{"REMOTE_ADDR": ELSEWHERE}, {"HTTP_X_FORWARDED_FOR": ELSEWHERE}, {"HTTP_FORWARDED": f"for={ELSEWHERE}"}],
)
def test_a_printed_password_lets_nobody_in_from_elsewhere_even_where_the_account_is_on(demo_accounts, sender):
    add_person("mira", "keeper", ACCOUNTS[0].password, by=None)
    for name, password in [(account.name, account.password) for account in ACCOUNTS] + [("mira", ACCOUNTS[0].password)]:
        refused = sign_in(name, password, **sender)
        assert "they work on the pool’s own computer only" in refused.content.decode()
        assert not refused.wsgi_request.user.is_authenticated
        assert sign_in(name, password).url == "/"


def test_elsewhere_whoever_has_a_password_of_their_own_signs_in_as_before(demo_accounts):
    set_password(User.objects.get(username="ida"), "my-own-word-3", by=None)
    assert sign_in("ida", "my-own-word-3", REMOTE_ADDR=ELSEWHERE).url == "/"
    wrong = sign_in("ida", "my-own-word-4", REMOTE_ADDR=ELSEWHERE).content.decode()
    assert "Name or password is wrong" in wrong
