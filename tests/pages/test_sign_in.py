"""Guessing over HTTP: waits are told, nothing typed is lost, and keepers see who tried."""

import html
from datetime import timedelta

import pytest
from conftest import signed_in
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet.models import SignInCount, SignInTry
from inspections.project.resubmission import SentForm

RIGHT = "muddy-hands-7"
WRONG = "Name or password is wrong. Capitals matter in both."


def sign_in(client, name="keeper", password=RIGHT, **fields):
    return client.post("/sign-in/", {"username": name, "password": password} | fields)


def said(answer):
    return html.unescape(answer.content.decode())


def let_waits_pass():
    SignInCount.objects.update(wait_until=timezone.now())


@pytest.fixture
def guessed_at(keeper):
    """Somebody guessed at the keeper's password until they were told to wait."""
    client = Client()
    for number in range(6):
        answer = sign_in(client, password=f"guess {number}")
    assert answer.status_code == 429
    return client


def test_who_guesses_too_often_is_told_how_long_to_wait_and_keeps_the_name(client, guessed_at):
    answer = sign_in(client)
    assert answer.status_code == 429
    assert 0 < int(answer["Retry-After"]) <= 30
    page = said(answer)
    assert f"Too many tries in a short time. Wait {answer['Retry-After']} seconds, then try again." in page
    assert 'value="keeper"' in page
    assert RIGHT not in page
    let_waits_pass()
    assert sign_in(client).status_code == 302


def test_each_answer_is_alike_whether_there_is_such_an_account_or_not(keeper):
    def answers(name):
        client, pages = Client(), []
        for number in range(6):
            answer = sign_in(client, name=name, password=f"guess {number}", csrfmiddlewaretoken="")
            seconds = answer.headers.get("Retry-After", "-")
            page = said(answer).replace(name, "").replace(f"{seconds} seconds", "")
            pages.append(
                (answer.status_code, page.partition("<main")[2].partition("csrfmiddlewaretoken")[0], page.count("<p>"))
            )
        return pages

    assert answers("keeper") == answers("nobody")


def test_somebody_elsewhere_signs_in_meanwhile(guessed_at):
    assert sign_in(Client(REMOTE_ADDR="198.51.100.9")).status_code == 302


def test_a_browser_that_signed_in_before_signs_in_meanwhile_and_no_other(client, keeper):
    assert sign_in(client).status_code == 302
    mark = next(cookie for name, cookie in client.cookies.items() if name.endswith("_known"))
    assert (mark["httponly"], mark["samesite"], mark["path"]) == (True, "Lax", "/")
    client.logout()
    other = Client()
    for number in range(6):
        answer = sign_in(other, password=f"guess {number}")
    assert answer.status_code == 429
    assert "keeper" not in str(client.cookies)
    client.cookies[mark.key] = mark.value
    assert sign_in(client).status_code == 302


def test_a_mark_that_was_tampered_with_is_none(client, guessed_at, settings):
    client.cookies[f"{settings.SESSION_COOKIE_NAME}_known"] = "WyJ4IixbIngiXV0:1x:forged"
    assert sign_in(client).status_code == 429


def test_a_form_that_was_kept_outlasts_the_wait(client, guessed_at):
    kept = SentForm("/events/add/", [["name", "Dyke run"]]).packed
    waiting = sign_in(client, kept=kept)
    assert waiting.status_code == 429
    assert kept in said(waiting)
    let_waits_pass()
    assert "Dyke run" in said(sign_in(client, kept=kept))


def test_a_password_without_end_is_refused_and_is_no_try(client, keeper):
    answer = sign_in(client, password="x" * 1025)
    assert "Write at most 1024 characters; this has 1025." in said(answer)
    assert (SignInTry.objects.count(), SignInCount.objects.count()) == (0, 0)
    assert "maxlength" not in said(answer).partition('type="password"')[2].partition(">")[0]


def test_that_an_account_is_deactivated_is_told_only_after_the_right_password(client, visitor):
    User.objects.filter(pk=visitor.pk).update(is_active=False)
    assert WRONG in said(sign_in(client, "visitor", "not it"))
    assert "This account is deactivated. Ask the keeper of the pool." in said(sign_in(client, "visitor"))
    assert client.get("/mats/").status_code == 302


OWN = dict.fromkeys(("new_password1", "new_password2"), "dry-socks-44")


def test_guessing_the_current_password_in_an_open_session_waits_too(visitor, visitor_client):
    for number in range(5):
        answer = visitor_client.post("/people/password/", OWN | {"old_password": f"guess {number}"})
        assert answer.status_code == 422
    answer = visitor_client.post("/people/password/", OWN | {"old_password": RIGHT})
    assert (answer.status_code, answer["Retry-After"]) == (429, "30")
    assert "Too many tries in a short time. Wait 30 seconds, then try again." in said(answer)
    let_waits_pass()
    assert visitor_client.post("/people/password/", OWN | {"old_password": RIGHT}).status_code == 302


def test_who_changes_their_own_password_keeps_a_browser_that_is_known(visitor):
    client = signed_in(visitor)
    client.post("/people/password/", OWN | {"old_password": RIGHT})
    for number in range(6):
        sign_in(Client(), "visitor", f"guess {number}")
    assert sign_in(client, "visitor", "dry-socks-44").status_code == 302


def tries(client, name):
    table = client.get(f"/people/{name}/account/").context["tries"]
    return [(row.get_cell("outcome"), row.get_cell("address")) for row in table.rows]


def test_a_keeper_sees_the_last_tries_of_an_account(keeper_client, visitor):
    assert "Nobody tried in the last 90 days." in said(keeper_client.get("/people/visitor/account/"))
    other = Client(REMOTE_ADDR="198.51.100.9")
    for number in range(6):
        sign_in(other, "visitor", f"guess {number}")
    sign_in(Client(), "visitor")
    wrong = [("Wrong password", "198.51.100.9")] * 5
    told = ("Told to wait after too many tries", "198.51.100.9")
    assert tries(keeper_client, "visitor") == [("Signed in", "127.0.0.1"), told, *wrong]
    for _ in range(12):
        sign_in(Client(), "visitor")
    assert tries(keeper_client, "visitor") == [("Signed in", "127.0.0.1")] * 10


def test_people_says_that_somebody_was_told_to_wait_lately(keeper_client, visitor):
    sentence = "too many tries to sign in came in a short time"
    for number in range(5):
        sign_in(Client(), "visitor", f"guess {number}")
    assert sentence not in said(keeper_client.get("/people/"))
    for name in ("visitor", *["nobody"] * 7):
        sign_in(Client(), name, "guess")
    page = " ".join(said(keeper_client.get("/people/")).split())
    assert f"{sentence}: 2 times, last on" in page
    assert '<a href="/people/visitor/account/#tries">visitor</a>, and 1 time with a name that no account has.' in page
    SignInTry.objects.update(tried_at=timezone.now() - timedelta(days=8))
    assert sentence not in said(keeper_client.get("/people/"))


def test_the_page_of_an_account_asks_as_many_queries_for_many_tries_as_for_one(keeper_client, visitor):
    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert keeper_client.get("/people/visitor/account/").status_code == 200
        return len(asked)

    SignInTry.objects.create(account=visitor, address="192.0.2.7", outcome="wrong")
    with_one = queries()
    SignInTry.objects.bulk_create(SignInTry(account=visitor, address="192.0.2.7", outcome="wrong") for _ in range(30))
    assert queries() == with_one
