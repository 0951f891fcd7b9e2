"""Links for phones: a keeper makes and withdraws them, a phone is signed in by one and may then log, and no more."""

import html
import re
from datetime import date, timedelta
from functools import partial

import pytest
from at_once import at_once
from conftest import signed_in
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from factories import make_link, make_person
from page_forms import form_in

from fleet.access import LINK_OF_SESSION
from fleet.models import AccountChange, LogLink, Session, SignInTry
from fleet.models.accounts import hash_of
from fleet.selectors.log_links import links_with_use
from fleet.services.log_links import make_link as make_new_link
from fleet.services.log_links import sign_in_by_link
from fleet.services.people import change_role, deactivate, reactivate

ADD = "/people/links/add/"
OPEN = "/phone/a-secret/"


def words(answer):
    return re.sub(r"\s+", " ", html.unescape(re.sub("<[^>]+>", "", answer.content.decode())))


def fill_in(client, **typed):
    return client.post(ADD, form_in(client.get(ADD)) | {"name": "gate phone"} | typed)


def address_in(answer):
    return re.search(r'class="link-address">http://testserver(/phone/[\w-]{43}/)<', answer.content.decode())[1]


def signed_in_by(place=OPEN):
    client = Client()
    assert client.post(place).status_code == 302
    return client


def is_signed_in(client):
    return client.get("/events/log/").status_code == 200


# --- made


def test_a_keeper_makes_a_link_that_signs_a_phone_in_under_an_account_of_its_name(keeper_client, keeper, today):
    answer = fill_in(keeper_client)
    link = LogLink.objects.get()
    assert (link.name, link.account.username, link.made_by) == ("gate phone", "gate-phone", keeper)
    assert link.ends_on == today + timedelta(days=28)
    assert not link.account.has_usable_password()
    client = signed_in_by(address_in(answer))
    assert client.session[LINK_OF_SESSION] == link.pk
    assert is_signed_in(client)


def test_of_the_secret_the_pool_keeps_a_hash_only(keeper_client):
    secret = address_in(fill_in(keeper_client)).split("/")[2]
    assert LogLink.objects.get().secret_hash == hash_of(secret)
    tables = connection.introspection.table_names()
    with connection.cursor() as cursor:
        for table in tables:
            cursor.execute(f'SELECT * FROM "{table}"')
            assert secret not in repr(cursor.fetchall()), table


def test_the_sheet_says_all_that_a_stranger_at_the_gate_needs(keeper_client, today):
    page = words(fill_in(keeper_client, last_day=f"{today + timedelta(days=9)}"))
    for said in (
        "gate phone",
        "press Sign in to log events",
        "Tell keeper, who withdraws it",
        "Signs in asgate-phone",
    ):
        assert said in page
    assert f"{today + timedelta(days=9):%A %-d %b %Y}" in page


def test_the_page_with_the_secret_is_kept_by_no_browser_and_has_no_style_of_its_own(keeper_client):
    answer = fill_in(keeper_client)
    assert "no-store" in answer["Cache-Control"]
    assert not re.search(r" style=|<style", answer.content.decode())


def test_sent_twice_makes_one_link_and_says_that_its_address_is_not_shown_again(keeper_client):
    form = form_in(keeper_client.get(ADD)) | {"name": "gate phone"}
    first, second = keeper_client.post(ADD, form), keeper_client.post(ADD, form, follow=True)
    assert LogLink.objects.count() == 1
    assert "link-address" not in second.content.decode()
    assert "“gate phone” was made already" in words(second) and "make a new one" in words(second)
    assert is_signed_in(signed_in_by(address_in(first)))


def test_an_account_that_may_log_already_is_offered_and_no_other(keeper_client, keeper, bench_hand, visitor, log_hand):
    gone = make_person("gone", role="log")
    deactivate(gone, by=keeper)
    offered = re.findall(r'<option value="(\w*)"', keeper_client.get(ADD).content.decode())
    assert offered == ["", "logger"]
    fill_in(keeper_client, account="logger")
    assert LogLink.objects.get().account == log_hand


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": ""}, "Fill in this field."),
        ({"name": "gate\x07phone"}, "it cannot be seen"),
        ({"name": "..."}, "write at least a letter or a digit"),
        ({"name": "x" * 201}, "Write at most 200 characters"),
        ({"name": "x" * 180}, "A new account cannot be called"),
        ({"name": "Keeper"}, "There is an account Keeper already."),
        ({"account": "hand"}, "Choose one of the values that are offered."),
        ({"last_day": "soon"}, "Write a day that the calendar has"),
        ({"last_day": "2020-01-01"}, "This day is over."),
        ({"last_day": "2199-01-01"}, "A link works for a year at most."),
    ],
)
def test_a_refused_link_says_why_and_keeps_what_was_typed(keeper_client, bench_hand, typed, said):
    answer = fill_in(keeper_client, **typed)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not LogLink.objects.exists()
    (name, value), *_ = typed.items()
    assert name == "account" or form_in(answer)[name] == value


def test_today_and_a_year_ahead_are_the_first_and_last_days_a_link_may_have(keeper, on):
    given = {"secret": "s", "by": keeper, "on": on, "account": None}
    for days in (-1, 367):
        with pytest.raises(ValidationError):
            make_new_link("gate", last_day=on + timedelta(days=days), **given)
    assert make_new_link("gate", last_day=on, **given).ends_on == on


@pytest.mark.parametrize(("host", "reached"), [("127.0.0.1:8000", False), ("localhost", False), ("192.168.1.9", True)])
def test_an_address_that_leads_a_phone_to_itself_is_told(keeper_client, settings, host, reached):
    settings.ALLOWED_HOSTS = ["*"]
    for answer in (keeper_client.get(ADD, headers={"host": host}), fill_in(keeper_client)):
        assert answer.status_code == 200
    page = words(keeper_client.get(ADD, headers={"host": host}))
    assert ("A phone does not reach this address" in page) != reached


def test_the_address_of_the_pool_is_the_one_that_is_set(keeper_client, settings):
    settings.POOL_ADDRESS = "https://pool.example.org"
    assert 'class="link-address">https://pool.example.org/phone/' in fill_in(keeper_client).content.decode()


# --- opened


def test_reading_the_address_signs_nobody_in(client, db):
    link = make_link()
    answer = client.get(OPEN)
    assert "Sign in to log events" in words(answer) and link.name in words(answer)
    assert not is_signed_in(client)
    assert not SignInTry.objects.exists()


def test_pressing_its_button_leads_to_the_log_and_is_recorded(client, db):
    link = make_link()
    answer = client.post(OPEN, REMOTE_ADDR="192.0.2.7")
    assert (answer.status_code, answer.url) == (302, "/events/log/")
    (tried,) = SignInTry.objects.all()
    assert (tried.outcome, tried.account, tried.address) == ("by a link", link.account, "192.0.2.7")
    link.refresh_from_db()
    assert abs(timezone.now() - link.used_at) < timedelta(minutes=1)


def test_the_button_needs_the_token_of_its_page(db):
    make_link()
    client = Client(enforce_csrf_checks=True)
    assert client.post(OPEN).status_code == 403
    token = form_in(client.get(OPEN))["csrfmiddlewaretoken"]
    assert client.post(OPEN, {"csrfmiddlewaretoken": token}).status_code == 302


def test_no_address_that_is_asked_for_next_tells_the_secret(client, db):
    make_link()
    answer = client.get(OPEN)
    assert answer["Referrer-Policy"] == "strict-origin"
    assert "no-store" in answer["Cache-Control"]


def test_the_session_from_before_is_over(log_client, log_hand, settings):
    make_link(log_hand)
    before = log_client.session.session_key
    cookie = log_client.cookies[settings.SESSION_COOKIE_NAME].value
    assert log_client.post(OPEN).status_code == 302
    assert log_client.session.session_key != before
    log_client.cookies[settings.SESSION_COOKIE_NAME] = cookie
    assert not is_signed_in(log_client)


def test_who_is_signed_in_as_somebody_else_is_told_and_signed_out_by_the_button(keeper_client):
    link = make_link()
    assert f"The button signs keeper out, and this phone in as {link.account}." in words(keeper_client.get(OPEN))
    assert keeper_client.get("/people/").status_code == 200
    keeper_client.post(OPEN)
    assert keeper_client.get("/people/").status_code == 403


# --- no more


def withdrawn(link, keeper):
    LogLink.objects.filter(pk=link.pk).update(withdrawn_at=timezone.now())


def over(link, keeper):
    LogLink.objects.filter(pk=link.pk).update(ends_on=timezone.localdate() - timedelta(days=1))


def deactivated(link, keeper):
    deactivate(link.account, by=keeper)


def raised(link, keeper):
    change_role(link.account, "bench hand", by=keeper)


def lowered(link, keeper):
    change_role(link.account, "visitor", by=keeper)


def raised_beside(link, keeper):
    """By another way than the service."""
    User.objects.filter(pk=link.account.pk).update(is_superuser=True)


ENDS = [withdrawn, over, deactivated, raised, lowered, raised_beside]


@pytest.mark.parametrize("end", ENDS)
def test_a_link_that_ended_answers_as_one_that_never_was_and_its_phones_are_out(keeper, end):
    link = make_link()
    phone = signed_in_by()
    assert is_signed_in(phone)
    end(link, keeper)
    assert phone.get("/events/log/").status_code == 302
    for method in ("get", "post"):
        ended, never = (getattr(Client(), method)(place) for place in (OPEN, "/phone/never-was/"))
        assert ended.status_code == never.status_code == 404
        assert without_token(ended) == without_token(never)
        assert ended.headers == never.headers


def without_token(answer):
    return re.sub(r'X-CSRFToken": "\w+"', "", answer.content.decode())


def test_a_wrong_secret_leaves_a_try_that_names_the_account_only_where_one_had_it(keeper, client):
    link = make_link()
    withdrawn(link, keeper)
    for place in (OPEN, "/phone/never-was/"):
        client.post(place)
    tries = SignInTry.objects.order_by("pk").values_list("outcome", "account")
    assert list(tries) == [("link does not work", link.account.pk), ("link does not work", None)]


def test_who_presses_again_and_again_makes_one_try_in_ten_minutes_of_each_address(client, db):
    for minutes, sender in [(0, "192.0.2.7"), (1, "192.0.2.7"), (2, "192.0.2.8"), (9, "192.0.2.7"), (11, "192.0.2.7")]:
        now = timezone.now() + timedelta(minutes=minutes)
        sign_in_by_link(f"guess {minutes}", now=now, address=sender, enter=None)
    assert list(SignInTry.objects.order_by("pk").values_list("address", flat=True)) == [
        *("192.0.2.7", "192.0.2.8", "192.0.2.7"),
    ]


@pytest.mark.parametrize("secret", ["a", "%00", "%ff", "x" * 5000, "ünïcode", "%F0%9F%92%A9"])
def test_no_secret_that_anybody_thinks_of_is_more_than_wrong(client, db, secret):
    assert client.get(f"/phone/{secret}/").status_code == 404
    assert client.post(f"/phone/{secret}/").status_code == 404


@pytest.mark.parametrize("method", ["get", "post"])
def test_the_database_is_asked_as_often_for_fifty_links_as_for_one(db, method):
    def queries():
        with CaptureQueriesContext(connection) as asked:
            getattr(Client(), method)(OPEN)
        return len(asked)

    account = make_link().account
    with_one = queries()
    for number in range(49):
        make_link(account, secret=f"s{number}")
    assert queries() == with_one


def test_a_role_that_is_given_back_gives_no_link_back(keeper):
    link = make_link()
    change_role(link.account, "bench hand", by=keeper)
    change_role(link.account, "log", by=keeper)
    link.refresh_from_db()
    assert link.withdrawn_by == keeper
    assert Client().get(OPEN).status_code == 404


def test_an_account_that_is_used_again_signs_in_by_its_link_again(keeper):
    link = make_link()
    deactivate(link.account, by=keeper)
    reactivate(link.account, by=keeper)
    assert Client().get(OPEN).status_code == 200


def test_the_last_day_counts_to_its_end_where_the_pool_is():
    with timezone.override("Pacific/Kiritimati"):
        assert LogLink(ends_on=date(2026, 3, 28)).ends_at.isoformat() == "2026-03-29T00:00:00+14:00"


def test_a_link_signs_in_on_its_last_day_and_no_moment_longer(keeper):
    link = make_link(ends_on=date(2026, 3, 28))
    entered = []
    for moment in (link.ends_at - timedelta(seconds=1), link.ends_at):
        sign_in_by_link("a-secret", now=moment, address="192.0.2.7", enter=entered.append)
    assert entered == [link]
    assert links_with_use(link.ends_at - timedelta(seconds=1)).get().is_open
    assert not links_with_use(link.ends_at).get().is_open


def test_a_session_ends_with_the_last_day_of_its_link(db):
    link = make_link(days=2)
    assert signed_in_by().session.get_expiry_date() == link.ends_at
    make_link(days=200, secret="long")
    session = signed_in_by("/phone/long/").session
    assert session.get_expiry_date() - timezone.now() <= timedelta(days=30)


# --- the list, and withdrawing


def test_the_list_says_how_each_link_is_used_and_those_that_ended_stand_below(keeper_client, keeper):
    ended = make_link(secret="b", name="old phone", days=-1)
    gone = make_link(secret="c", name="lost phone", withdrawn_at=timezone.now(), withdrawn_by=keeper)
    link = make_link()
    rows = list(keeper_client.get("/people/links/").context["table"].rows)
    names = [row.record.name for row in rows]
    assert (names[0], {*names[1:]}) == (link.name, {ended.name, gone.name})
    page = words(keeper_client.get("/people/links/"))
    assert f"until {link.ends_on:%-d %b %Y}" in page
    assert f"ended {ended.ends_on:%-d %b %Y}" in page
    assert f"withdrawn {timezone.localdate():%-d %b %Y} by keeper" in page


def test_the_list_counts_the_phones_that_are_signed_in_now(keeper_client):
    link = make_link()
    phones = [signed_in_by(), signed_in_by(), signed_in_by()]
    phones[0].post("/sign-out/")
    Session.objects.filter(pk=Session.objects.filter(link=link).first().pk).update(expire_date=timezone.now())
    (row,) = keeper_client.get("/people/links/").context["table"].rows
    assert row.record.phones == 1
    assert "1 phone signed in by it is signed out." in words(keeper_client.get(f"/people/links/{link.pk}/withdraw/"))


def test_a_phone_that_goes_on_is_use_of_its_link(keeper_client):
    link = make_link()
    phone, earlier = signed_in_by(), timezone.now() - timedelta(hours=3)
    LogLink.objects.update(used_at=earlier)
    Session.objects.filter(link=link).update(seen_at=earlier)
    phone.get("/mats/")
    assert timezone.now() - LogLink.objects.get().used_at < timedelta(minutes=1)


@pytest.mark.parametrize("column", ["name", "state", "account", "used_at", "phones", "made_at"])
def test_the_list_sorts_by_each_column(keeper_client, column):
    make_link()
    assert keeper_client.get("/people/links/", {"sort": f"-{column}"}).status_code == 200


def test_the_list_asks_the_database_with_as_many_queries_for_forty_links_as_for_one(keeper_client):
    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert keeper_client.get("/people/links/").status_code == 200
        return len(asked)

    account = make_link().account
    with_one = queries()
    for number in range(39):
        make_link(account, secret=f"s{number}")
    assert queries() == with_one


def withdraw(client, link, **given):
    place = f"/people/links/{link.pk}/withdraw/"
    return client.post(place, form_in(client.get(place)), **given)


def test_a_keeper_withdraws_a_link_once_and_its_phones_are_signed_out(keeper_client, keeper):
    link = make_link()
    phone = signed_in_by()
    seen = form_in(keeper_client.get(f"/people/links/{link.pk}/withdraw/"))
    assert Session.objects.filter(link=link, account=link.account).count() == 1
    assert withdraw(keeper_client, link).status_code == 302
    assert not Session.objects.filter(account=link.account).exists()
    assert not is_signed_in(phone)
    late = keeper_client.post(f"/people/links/{link.pk}/withdraw/", seen)
    assert late.status_code == 422
    assert "gate phone was withdrawn already" in words(late)
    assert "Withdraw it" not in words(late)


def test_what_a_keeper_does_with_links_stands_in_the_trail_of_the_account(keeper_client, keeper):
    fill_in(keeper_client)
    withdraw(keeper_client, LogLink.objects.get())
    done = AccountChange.objects.filter(act__startswith="link").order_by("pk")
    assert [(change.act, change.detail, change.account.username, change.changed_by) for change in done] == [
        ("link made", "gate phone", "gate-phone", keeper),
        ("link withdrawn", "gate phone", "gate-phone", keeper),
    ]


# --- what a phone may do


def test_a_phone_has_no_password_to_change_and_ends_no_other_session(db):
    make_link()
    phone = signed_in_by()
    for method in ("get", "post"):
        answer = getattr(phone, method)("/people/password/")
        assert answer.status_code == 403
        assert "This is not for a phone that was signed in by a link." in words(answer)
    assert phone.post("/people/sessions/end/").status_code == 403
    assert "Your account" not in words(phone.get("/events/"))


def test_the_same_account_signed_in_with_its_password_may_change_it(log_client, log_hand):
    make_link(log_hand)
    assert log_client.get("/people/password/").status_code == 200
    assert "Your account" in words(log_client.get("/events/"))


# --- at one moment


def do_next(acts):
    return next(acts)()


@pytest.mark.django_db(transaction=True)
def test_a_link_withdrawn_while_somebody_presses_its_button_leaves_nobody_signed_in(keeper):
    other, account = signed_in(keeper), make_person("gate", role="log")
    for number in range(4):
        link, phone = make_link(account, secret=f"s{number}"), Client()
        acts = iter([partial(phone.post, f"/phone/s{number}/"), partial(withdraw, other, link)])
        at_once(2, partial(do_next, acts))
        assert LogLink.objects.get(pk=link.pk).withdrawn_at
        assert not is_signed_in(phone)


@pytest.mark.django_db(transaction=True)
def test_two_phones_that_press_at_once_are_both_signed_in():
    make_link()
    phones = [Client(), Client()]
    each = iter([partial(phone.post, OPEN) for phone in phones])
    assert [answer.status_code for answer in at_once(2, partial(do_next, each))] == [302, 302]
    assert all(map(is_signed_in, phones))
