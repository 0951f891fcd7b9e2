"""Accounts as a keeper looks after them, over HTTP."""

import threading

import pytest
from conftest import signed_in
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from factories import make_link, make_person
from page_forms import seen_on

from fleet.selectors.people import get_person_or_404
from fleet.services.link_ends import withdraw_link
from fleet.services.people import add_person, change_role, deactivate, set_password

NEW = {"name": "ottilie", "role": "bench hand", "password": "wet-gloves-9", "again": "wet-gloves-9"}


def may_sign_in(name, password):
    return Client().login(username=name, password=password)


def role_of(name):
    return get_person_or_404(name).role


def test_a_keeper_adds_an_account_that_signs_in_with_its_role(keeper_client):
    assert keeper_client.post("/people/add/", NEW).status_code == 302
    assert role_of("ottilie") == "bench hand"
    client = Client()
    assert client.post("/sign-in/", {"username": "ottilie", "password": "wet-gloves-9"}).status_code == 302
    assert client.get("/people/password/").status_code == 200


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"again": "wet-gloves-8"}, "The two passwords differ. Type them again."),
        ({"password": "short", "again": "short"}, "This password is too short."),
        ({"password": "password1", "again": "password1"}, "This password is too common."),
        ({"name": "KEEPER"}, "Somebody has this name already. Choose another."),
        ({"name": "two words"}, "Letters, digits and @ . + - _ only, no spaces."),
        ({"name": ".."}, "A code needs a letter or a digit."),
        ({"role": "owner"}, "Choose one of the values that are offered."),
    ],
)
def test_a_refused_account_says_why_and_keeps_the_name_that_was_typed(keeper_client, change, said):
    answer = keeper_client.post("/people/add/", NEW | change)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert f'value="{(NEW | change)["name"]}"' in page
    assert not User.objects.filter(username="ottilie").exists()


def test_the_list_names_everybody_with_role_and_account(keeper_client, bench_hand):
    make_person("wilma", role="visitor")
    User.objects.filter(username="wilma").update(is_active=False)
    rows = keeper_client.get("/people/").context["table"].as_values()
    assert [row[:3] for row in rows] == [
        ["Name", "Role", "Account"],
        ["hand", "bench hand", "may sign in"],
        ["keeper", "keeper", "may sign in"],
        ["wilma", "visitor", "deactivated"],
    ]


@pytest.mark.parametrize("column", ["username", "role", "is_active", "last_login"])
def test_the_list_sorts_by_each_column(keeper_client, column):
    assert keeper_client.get("/people/", {"sort": f"-{column}"}).status_code == 200


def test_the_list_asks_as_often_for_fifty_people_as_for_one(keeper_client):
    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert keeper_client.get("/people/").status_code == 200
        return len(asked)

    with_one = queries()
    for number in range(49):
        make_person(f"person-{number}", role="visitor")
    assert queries() == with_one


def send(client, name, act, follow=False, **typed):
    """What a button of the account's page sends."""
    seen = seen_on(client, f"/people/{name}/account/")
    return client.post(f"/people/{name}/{act}/", seen | typed, follow=follow)


def test_a_changed_role_holds_from_the_next_page_on(keeper_client, visitor, visitor_client):
    assert visitor_client.get("/people/").status_code == 403
    send(keeper_client, "visitor", "role", role="keeper")
    assert visitor_client.get("/people/").status_code == 200
    assert visitor.groups.count() == 1


def test_a_new_password_replaces_the_old_and_ends_the_sessions(keeper_client, visitor_client):
    answer = send(keeper_client, "visitor", "password", password="dry-socks-44", again="dry-socks-44")
    assert answer.status_code == 302
    assert may_sign_in("visitor", "dry-socks-44")
    assert not may_sign_in("visitor", "muddy-hands-7")
    assert visitor_client.get("/people/password/").url.startswith("/sign-in/")


def test_a_keepers_own_new_password_asks_for_the_one_they_have(keeper, keeper_client):
    for typed in ("dry-socks-44", "short"):
        sent = seen_on(keeper_client, "/people/keeper/account/") | dict.fromkeys(("password", "again"), typed)
        answer = keeper_client.post("/people/keeper/password/", sent, follow=True)
        assert answer.redirect_chain == [("/people/password/", 302)]
    keeper.refresh_from_db()
    assert keeper.check_password("muddy-hands-7")


def test_a_refused_password_changes_nothing_and_says_why(keeper_client, visitor):
    answer = send(keeper_client, "visitor", "password", password="dry-socks-44", again="dry-socks-45")
    assert answer.status_code == 422
    assert "The two passwords differ. Type them again." in answer.content.decode()
    assert may_sign_in("visitor", "muddy-hands-7")


def test_a_deactivated_person_is_signed_out_and_comes_back_with_the_old_password(keeper_client, visitor_client):
    send(keeper_client, "visitor", "deactivate")
    assert not may_sign_in("visitor", "muddy-hands-7")
    assert visitor_client.get("/people/password/").url.startswith("/sign-in/")
    assert User.objects.filter(username="visitor").exists()
    send(keeper_client, "visitor", "reactivate")
    assert may_sign_in("visitor", "muddy-hands-7")


def test_who_comes_back_signs_in_anew_wherever_they_were_signed_in(keeper_client, visitor_client):
    send(keeper_client, "visitor", "deactivate")
    send(keeper_client, "visitor", "reactivate")
    assert visitor_client.get("/people/password/").url.startswith("/sign-in/")


def test_a_new_password_of_their_own_ends_their_other_sessions_and_nobody_elses(visitor, visitor_client, keeper_client):
    elsewhere = signed_in(visitor)
    typed = {"old_password": "muddy-hands-7", "new_password1": "dry-socks-44", "new_password2": "dry-socks-44"}
    visitor_client.post("/people/password/", typed)
    assert visitor.sessions.count() == 1
    clients = (visitor_client, elsewhere, keeper_client)
    assert [client.get("/mats/").status_code for client in clients] == [200, 302, 200]


def test_what_a_former_keeper_still_gets_in_by_is_named_until_it_is_closed(keeper, keeper_client):
    ivo = make_person("ivo", role="keeper")
    link = make_link(name="gate tablet", made_by=ivo)
    add_person("fay", "log", "muddy-hands-7", by=ivo)
    add_person("una", "log", "muddy-hands-7", by=ivo)
    set_password(User.objects.get(username="una"), "muddy-hands-8", by=keeper)
    said = send(keeper_client, "ivo", "deactivate", follow=True)
    page = " ".join(said.content.decode().split())
    assert "ivo can no longer sign in. Records keep the name. But look below: they know other ways in." in page
    assert "Link for a phone: gate tablet" in page and f"/people/links/{link.pk}/withdraw/" in page
    assert 'The password of <a href="/people/fay/account/">fay</a>' in page and "/people/una/account/" not in page
    withdraw_link(link, by=keeper)
    set_password(User.objects.get(username="fay"), "muddy-hands-8", by=keeper)
    assert "Other ways in" not in keeper_client.get("/people/ivo/account/").content.decode()


def test_nobody_deactivates_the_account_they_are_signed_in_with(keeper_client):
    make_person("second", role="keeper")
    answer = send(keeper_client, "keeper", "deactivate", follow=True)
    assert "You cannot deactivate the account you are signed in with." in answer.content.decode()
    assert User.objects.get(username="keeper").is_active


def test_the_last_keeper_stays_keeper(keeper_client, keeper):
    answer = send(keeper_client, "keeper", "role", role="visitor")
    assert answer.status_code == 422
    assert "make somebody else keeper first" in answer.content.decode()
    assert role_of("keeper") == "keeper"


def test_a_deactivated_keeper_does_not_count_as_one(keeper):
    second = make_person("second", role="keeper")
    deactivate(second, by=keeper)
    with pytest.raises(ValidationError, match="make somebody else keeper first"):
        change_role(keeper, "visitor", by=second)


@pytest.mark.django_db(transaction=True)
def test_two_keepers_who_deactivate_each_other_at_once_leave_one():
    first, second = make_person("first"), make_person("second")
    start, refused = threading.Barrier(2), []

    def act(person, by):
        start.wait()
        try:
            deactivate(person, by=by)
        except ValidationError:
            refused.append(person)
        finally:
            connection.close()

    threads = [threading.Thread(target=act, args=pair) for pair in ((first, second), (second, first))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(refused) == 1
    assert User.objects.filter(is_active=True).count() == 1


@pytest.mark.parametrize("act", ["role", "password", "deactivate", "reactivate"])
def test_an_unknown_name_is_no_such_page(keeper_client, act):
    assert keeper_client.post(f"/people/nobody/{act}/").status_code == 404


def test_everybody_changes_their_own_password_and_stays_signed_in(visitor_client):
    typed = {"old_password": "muddy-hands-7", "new_password1": "dry-socks-44", "new_password2": "dry-socks-44"}
    assert visitor_client.post("/people/password/", typed).status_code == 302
    assert may_sign_in("visitor", "dry-socks-44")
    assert visitor_client.get("/people/password/").status_code == 200


def test_a_wrong_old_password_changes_nothing(visitor_client):
    typed = {"old_password": "wrong", "new_password1": "dry-socks-44", "new_password2": "dry-socks-44"}
    answer = visitor_client.post("/people/password/", typed)
    assert answer.status_code == 422
    assert "Your old password was entered incorrectly" in answer.content.decode()
    assert may_sign_in("visitor", "muddy-hands-7")
