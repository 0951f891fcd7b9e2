"""The first account of a keeper: made on this computer only, and only while no keeper can sign in."""

from threading import Barrier, Thread

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from factories import make_person

from fleet.services.people import add_first_keeper

URL = "/first-account/"
TOLD = {"name": "mira", "password": "muddy-hands-7", "again": "muddy-hands-7"}


@pytest.fixture
def make_at_once():
    def run_all(acts):
        gate, outcomes = Barrier(len(acts)), [None] * len(acts)

        def run(number):
            gate.wait()
            try:
                outcomes[number] = acts[number]()
            except ValidationError as refused:
                outcomes[number] = refused
            finally:
                connection.close()

        threads = [Thread(target=run, args=(number,)) for number in range(len(acts))]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(timeout=60)
        return outcomes

    return run_all


@pytest.mark.django_db
def test_signing_in_to_a_new_pool_leads_to_the_first_account(client):
    assert client.get("/sign-in/").url == URL
    assert "The first account" in client.get(URL).content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize("address", ["127.0.0.1", "::1"])
def test_whoever_makes_it_is_signed_in_as_keeper(address):
    client = Client(REMOTE_ADDR=address)
    response = client.post(URL, TOLD)
    assert (response.status_code, response.url) == (302, "/")
    assert User.objects.get().groups.get().name == "keeper"
    assert "Start here" in client.get("/").content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize(
    "sender",
    [
        {"REMOTE_ADDR": "192.168.1.20"},
        {"REMOTE_ADDR": "::ffff:192.168.1.20"},
        {"REMOTE_ADDR": ""},
        {"REMOTE_ADDR": "127.0.0.1", "HTTP_X_FORWARDED_FOR": "192.168.1.20"},
        {"REMOTE_ADDR": "127.0.0.1", "HTTP_FORWARDED": "for=192.168.1.20"},
    ],
)
@pytest.mark.parametrize("method", ["get", "post"])
def test_from_another_computer_it_can_neither_be_seen_nor_made(sender, method):
    response = getattr(Client(**sender), method)(URL, TOLD)
    assert response.status_code == 403
    assert "Not from here" in response.content.decode()
    assert not User.objects.exists()


@pytest.mark.django_db
def test_once_there_is_an_account_there_is_no_such_page(keeper, client):
    assert client.get(URL).status_code == 404
    response = client.post(URL, TOLD)
    assert response.status_code == 422
    assert "There is an account already" in response.content.decode()
    assert User.objects.count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"again": "muddy-hands-8"}, "The two passwords differ. Type them again."),
        ({"password": "short", "again": "short"}, "too short"),
        ({"name": "mi ra"}, "Letters, digits and @ . + - _ only, no spaces."),
        ({"name": ""}, "Fill in this field"),
    ],
)
def test_what_is_wrong_is_said_and_the_name_stays(client, changed, said):
    told = TOLD | changed
    response = client.post(URL, told)
    page = response.content.decode()
    assert response.status_code == 422
    assert said in page
    assert f'value="{told["name"]}"' in page or not told["name"]
    assert "muddy-hands" not in page
    assert not User.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_of_several_who_make_it_at_once_one_does(make_at_once):
    outcomes = make_at_once([lambda n=n: add_first_keeper(f"keeper{n}", "muddy-hands-7") for n in range(6)])
    assert len([each for each in outcomes if isinstance(each, User)]) == 1
    assert len([each for each in outcomes if isinstance(each, ValidationError)]) == 5
    assert User.objects.count() == 1


@pytest.fixture
def no_keeper(keeper, bench_hand):
    """A bench hand may sign in; the only keeper may not."""
    User.objects.filter(pk=keeper.pk).update(is_active=False)


def test_where_no_keeper_can_sign_in_any_more_one_is_made_in_the_same_way(no_keeper, client):
    assert client.get("/sign-in/").url == URL
    assert "No keeper can sign in to this pool now" in client.get(URL).content.decode()
    before = list(User.objects.order_by("pk").values())
    assert client.post(URL, TOLD).status_code == 302
    assert list(User.objects.order_by("pk").values())[: len(before)] == before
    assert User.objects.get(username="mira").groups.get().name == "keeper"
    assert client.get("/people/").status_code == 200
    assert Client().get(URL).status_code == 404
    assert Client().get("/sign-in/").status_code == 200


def test_from_another_computer_it_is_as_closed_as_for_a_new_pool(no_keeper):
    elsewhere = Client(REMOTE_ADDR="192.168.1.20")
    assert elsewhere.get(URL).status_code == elsewhere.post(URL, TOLD).status_code == 403
    assert not User.objects.filter(username="mira").exists()


def test_whoever_else_is_signed_in_may_not_make_themselves_keeper_from_elsewhere(no_keeper, bench_hand):
    client = Client(REMOTE_ADDR="192.168.1.20")
    client.force_login(bench_hand)
    assert client.post(URL, TOLD).status_code == 403


def test_an_account_that_is_there_is_not_taken_over(no_keeper, client):
    response = client.post(URL, TOLD | {"name": "Keeper"})
    assert response.status_code == 422
    assert "Somebody has this name already" in response.content.decode()
    assert not User.objects.get(username="keeper").is_active


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("keeps", "is_open"),
    [({}, False), ({"is_active": False}, True), ({"password": "!nobody knows"}, True), ({"password": ""}, True)],
)
def test_a_keeper_is_one_who_can_sign_in(client, keeps, is_open):
    person = make_person("olaf")
    User.objects.filter(pk=person.pk).update(**keeps)
    assert client.get(URL).status_code == (200 if is_open else 404)


@pytest.mark.django_db(transaction=True)
def test_of_several_who_make_it_at_once_where_keepers_are_switched_off_one_does(no_keeper, make_at_once):
    outcomes = make_at_once([lambda n=n: add_first_keeper(f"keeper{n}", "muddy-hands-7") for n in range(4)])
    assert [type(each) for each in outcomes].count(User) == 1
    assert User.objects.filter(groups__name="keeper", is_active=True).count() == 1
