"""Where a whole network is served, the first account of a keeper is made with the code that the terminal shows."""

import pytest
from django.contrib.auth.models import User
from django.test import Client

from fleet.services import first_code
from fleet.services.first_code import TRIES, ask_for_code, new_code

pytestmark = pytest.mark.django_db
URL = "/first-account/"
TOLD = {"name": "mira", "password": "muddy-hands-7", "again": "muddy-hands-7"}
PHONE, HERE = "192.168.1.20", "127.0.0.1"


@pytest.fixture
def terminal(monkeypatch):
    """The codes that it shows, the newest last."""
    monkeypatch.setattr(first_code, "_asked", {"code": None})
    shown = []
    ask_for_code(shown.append, from_network=True).show()
    return shown


@pytest.fixture
def later(monkeypatch):
    """The clock goes on by so many seconds."""

    def wait(seconds):
        at = first_code.monotonic() + seconds
        monkeypatch.setattr(first_code, "monotonic", lambda: at)

    return wait


def send(code, address=PHONE, **told):
    return Client(REMOTE_ADDR=address).post(URL, TOLD | told | {"code": code})


@pytest.mark.parametrize("address", [PHONE, HERE])
def test_whoever_types_the_code_makes_it_and_is_signed_in(terminal, address):
    client = Client(REMOTE_ADDR=address)
    assert client.get("/sign-in/").url == URL
    assert "Code from the terminal" in client.get(URL).content.decode()
    assert client.post(URL, TOLD | {"code": terminal[-1]}).url == "/"
    assert User.objects.get().groups.get().name == "keeper"
    assert client.get("/people/").status_code == 200


@pytest.mark.parametrize("written", [str.upper, lambda code: code.replace("-", ""), lambda code: f" {code} "])
def test_it_may_be_written_in_any_way(terminal, written):
    assert send(written(terminal[-1])).status_code == 302


@pytest.mark.parametrize("code", ["", "abcd-efgh", "ABCD", "\0", "ä" * 40, "x" * 9_000])
@pytest.mark.parametrize("address", [PHONE, HERE])
def test_without_it_nobody_does_not_even_here_and_what_was_typed_stays(terminal, code, address):
    response = send(code, address)
    assert response.status_code in (400, 422)
    assert response.status_code == 400 or 'value="mira"' in response.content.decode()
    assert not User.objects.exists()
    assert len(terminal) == 1


def test_a_right_code_with_passwords_that_differ_can_be_used_again(terminal):
    for _ in range(TRIES + 1):
        page = send(terminal[-1], again="muddy-hands-8")
        assert page.status_code == 422
        assert "The two passwords differ" in page.content.decode()
    assert send(terminal[-1]).status_code == 302


def test_after_some_wrong_ones_the_terminal_shows_another_and_whoever_guessed_waits(terminal, later):
    said = [send("abcd-efgh").content.decode() for _ in range(TRIES)]
    assert all("This is not the code that the terminal shows." in page for page in said[:-1])
    assert "The terminal shows a new one" in said[-1]
    old, new = terminal
    assert "Wait a minute" in send(new).content.decode()
    assert send(old, "192.168.1.21").status_code == 422
    assert not User.objects.exists()
    later(first_code.WAIT_S + 1)
    assert send(new).status_code == 302


def test_guessing_on_makes_no_more_codes_and_keeps_nobody_else_out(terminal):
    for _ in range(4 * TRIES):
        send("abcd-efgh")
    assert len(terminal) == 2
    assert send(terminal[-1], HERE).status_code == 302


def test_once_there_is_a_keeper_the_code_is_worth_nothing(terminal, keeper):
    assert send(terminal[-1]).status_code == 403
    assert Client(REMOTE_ADDR=PHONE).get(URL).status_code == 403
    assert send(terminal[-1], HERE).status_code == 422
    for _ in range(TRIES):
        send("abcd-efgh")
    assert len(terminal) == 1
    assert User.objects.count() == 1


def test_codes_are_short_and_never_the_same():
    codes = {new_code() for _ in range(200)}
    assert len(codes) == 200
    assert {len(code) for code in codes} == {9}
    assert not set("".join(codes)) & set("ilo01")


def test_where_no_network_is_served_it_lets_nobody_in_from_elsewhere(terminal):
    ask_for_code(terminal.append).show()
    assert send(terminal[-1]).status_code == 403
    assert Client(REMOTE_ADDR=HERE, HTTP_X_FORWARDED_FOR=PHONE).get(URL).status_code == 403
    assert send("", HERE).status_code == 422
    assert send(terminal[-1], HERE).status_code == 302


def test_an_address_may_bring_it_along(terminal):
    assert f'value="{terminal[-1]}"' in Client().get(URL, {"code": terminal[-1]}).content.decode()
