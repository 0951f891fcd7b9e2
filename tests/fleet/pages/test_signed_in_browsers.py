"""Where an account is signed in: everybody sees and ends their own, a keeper those of anybody."""

import html
import re
import threading
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from factories import make_person

from fleet.models import LogLink, Session
from fleet.services.sessions import end_sessions

OWN, HERS = "/people/password/", "/people/visitor/account/"
END_OWN, END_HERS = "/people/sessions/end/", "/people/visitor/sessions/end/"
PHONE = "Mozilla/5.0 (Android 15; Mobile; rv:140.0) Gecko/140.0 Firefox/140.0"
DESK = "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537 Chrome/140.0 Safari/537.36"


def signs_in(person, device=PHONE, address="192.0.2.7"):
    client = Client(REMOTE_ADDR=address, headers={"user-agent": device})
    client.post("/sign-in/", {"username": person.username, "password": "muddy-hands-7"})
    return client


def is_in(client):
    return client.get("/mats/").status_code == 200


def shown(client, place):
    """[browser, address] of each line of the page."""
    rows = client.get(place).context["sessions"].rows
    return [[words(row.get_cell("device")), row.get_cell_value("address")] for row in rows]


def words(text):
    return re.sub(r"\s+", " ", html.unescape(re.sub("<[^>]+>", "", text))).strip()


def key_of(person, device):
    return Session.objects.get(account=person, device=device).pk


@pytest.fixture
def phone(visitor):
    return signs_in(visitor)


@pytest.fixture
def desk(visitor, phone):
    """Signed in after the phone."""
    return signs_in(visitor, DESK, "192.0.2.8")


def test_everybody_sees_where_they_are_signed_in_and_which_browser_is_theirs(desk, keeper_client):
    here = ["Chrome on Windows · this browser", "192.0.2.8"]
    assert shown(desk, OWN) == [here, ["Firefox on Android", "192.0.2.7"]]


def test_times_are_those_of_the_pool(phone, keeper_client):
    at = timezone.localtime() - timedelta(days=2)
    Session.objects.update(started_at=at, seen_at=at + timedelta(hours=5))
    (row,) = keeper_client.get(HERS).context["sessions"].rows
    assert row.get_cell("started_at") == f"{at:%d %b %Y, %H:%M}".lstrip("0")
    assert row.get_cell("seen_at") == f"{at + timedelta(hours=5):%d %b %Y, %H:%M}".lstrip("0")
    (row,) = phone.get(OWN).context["sessions"].rows
    assert (row.get_cell("started_at"), row.get_cell("seen_at")) == (f"{at:%d %b %Y, %H:%M}".lstrip("0"), "now")


def test_who_signs_out_a_lost_phone_stays_signed_in_at_the_desk(visitor, phone, desk):
    answer = desk.post(END_OWN, {"session": key_of(visitor, "Firefox on Android")}, follow=True)
    assert "visitor is signed out: Firefox on Android, 192.0.2.7." in words(answer.content.decode())
    assert (is_in(desk), is_in(phone)) == (True, False)


def test_all_others_are_signed_out_at_once(visitor, phone, desk, keeper_client):
    tablet = signs_in(visitor, "")
    answer = desk.post(END_OWN, {"session": "all"}, follow=True)
    assert "visitor is signed out: 2 browsers." in words(answer.content.decode())
    assert [is_in(client) for client in (desk, phone, tablet, keeper_client)] == [True, False, False, True]


def test_the_button_for_all_is_there_where_it_saves_a_press(visitor, desk):
    assert "Sign out everywhere else" not in desk.get(OWN).content.decode()
    signs_in(visitor, "")
    assert "Sign out everywhere else" in desk.get(OWN).content.decode()


@pytest.mark.parametrize("sent", [{"session": "all"}, {"session": "{phone}"}])
def test_sent_twice_it_acts_once(visitor, phone, desk, sent):
    sent = {"session": sent["session"].format(phone=key_of(visitor, "Firefox on Android"))}
    assert said(desk.post(END_OWN, sent, follow=True)) == "is signed out"
    assert said(desk.post(END_OWN, sent, follow=True)) == "Nobody was signed out"
    assert [change.act for change in visitor.changes.all()] == ["sessions ended", "made"]


def said(answer):
    return re.search("is signed out|Nobody was signed out", words(answer.content.decode()))[0]


def test_nobody_ends_the_browser_that_they_ask_from_by_mistake(visitor, desk):
    assert (
        "Nobody was signed out"
        in desk.post(END_OWN, {"session": key_of(visitor, "Chrome on Windows")}, follow=True).content.decode()
    )
    assert is_in(desk)


@pytest.mark.parametrize("sent", [{}, {"session": ""}, {"session": "none-such"}, {"session": "x" * 5000}])
def test_what_no_page_sends_ends_nothing(phone, desk, sent):
    assert said(desk.post(END_OWN, sent, follow=True)) == "Nobody was signed out"
    assert is_in(phone)


def test_nobody_ends_sessions_of_others_nor_learns_whether_there_are_any(visitor, phone, bench_client, bench_hand):
    answers = [
        bench_client.post(END_OWN, {"session": key}, follow=True).content.decode().partition("<main")[2]
        for key in (key_of(visitor, "Firefox on Android"), "0" * 64)
    ]
    without_token = [re.sub('value="[^"]{64}"', "", answer) for answer in answers]
    assert without_token[0] == without_token[1]
    assert "Firefox on Android" not in answers[0]
    assert bench_client.post(END_HERS, {"session": "all"}).status_code == 403
    assert bench_client.post("/people/none-such/sessions/end/").status_code == 403
    assert is_in(phone)


def test_a_keeper_sees_where_others_are_signed_in_and_signs_them_out(phone, desk, keeper_client):
    assert shown(keeper_client, HERS) == [["Chrome on Windows", "192.0.2.8"], ["Firefox on Android", "192.0.2.7"]]
    keeper_client.post(END_HERS, {"session": "all"})
    assert (is_in(phone), is_in(desk), is_in(keeper_client)) == (False, False, True)
    assert "Nowhere at the moment." in keeper_client.get(HERS).content.decode()


def test_a_keeper_ends_one_session_of_another_and_the_trail_says_which(visitor, phone, desk, keeper, keeper_client):
    keeper_client.post(END_HERS, {"session": key_of(visitor, "Firefox on Android")})
    change = visitor.changes.first()
    assert (change.act, change.detail, change.changed_by) == ("sessions ended", "Firefox on Android, 192.0.2.7", keeper)
    assert (is_in(phone), is_in(desk)) == (False, True)
    assert "Signed out: Firefox on Android, 192.0.2.7" in words(keeper_client.get(HERS).content.decode())


def test_the_page_of_one_account_ends_no_session_of_another(visitor, phone, keeper_client):
    make_person("other", role="visitor")
    keeper_client.post("/people/other/sessions/end/", {"session": key_of(visitor, "Firefox on Android")})
    assert is_in(phone)


def test_a_keeper_does_not_sign_out_themselves_on_their_own_page(keeper_client):
    keeper_client.post("/people/keeper/sessions/end/", {"session": "all"})
    assert is_in(keeper_client)


def test_a_session_that_has_ended_by_itself_is_not_shown(visitor, phone, desk):
    Session.objects.filter(device="Firefox on Android").update(seen_at=timezone.now() - timedelta(days=15))
    assert shown(desk, OWN) == [["Chrome on Windows · this browser", "192.0.2.8"]]


def test_a_session_by_a_link_says_which(keeper_client, keeper, visitor, phone):
    link = LogLink.objects.create(
        account=visitor, name="gate <1>", secret_hash="5" * 64, made_by=keeper, ends_on=timezone.localdate()
    )
    Session.objects.filter(account=visitor).update(link=link, device="<b>x</b>")
    page = keeper_client.get(HERS).content.decode()
    assert "by the link gate &lt;1&gt;" in page and "&lt;b&gt;x" in page and "<b>x" not in page


def test_the_list_asks_as_often_for_sixty_browsers_as_for_two_and_shows_them_in_pages(visitor, desk, keeper, phone):
    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert desk.get(OWN).status_code == 200
        return len(asked)

    with_two, at = queries(), timezone.now()
    dates = {"expire_date": at + timedelta(days=9), "seen_at": at}
    Session.objects.bulk_create(Session(pk=f"{number:064}", account=visitor, **dates) for number in range(60))
    assert queries() == with_two
    assert len(desk.get(OWN).context["sessions"].paginated_rows) == 10
    assert len(desk.get(OWN, {"browsers-page": 7}).context["sessions"].paginated_rows) == 2


@pytest.mark.django_db(transaction=True)
def test_of_two_who_end_it_at_once_one_did(keeper):
    lost, start, ended = signs_in(keeper), threading.Barrier(2), []

    def end():
        start.wait()
        try:
            ended.append(end_sessions(keeper, by=keeper, now=timezone.now()))
        finally:
            connection.close()

    threads = [threading.Thread(target=end) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(ended) == ["", "Firefox on Android, 192.0.2.7"]
    assert [change.act for change in keeper.changes.all()] == ["sessions ended", "made"]
    assert not is_in(lost)
