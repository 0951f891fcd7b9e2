"""What was done to an account, by whom and when: kept with every act, shown to keepers, never made up."""

import html
import re
from datetime import datetime

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from factories import make_person
from page_forms import seen_on

from fleet.models import AccountChange
from fleet.services.people import add_first_keeper, add_person, deactivate

NEW = {"name": "ottilie", "role": "bench hand", "password": "wet-gloves-9", "again": "wet-gloves-9"}
OTHER = dict.fromkeys(("password", "again"), "dry-socks-44")
OWN = {"old_password": "dry-socks-44"} | dict.fromkeys(("new_password1", "new_password2"), "warm-boots-5")
SERVER = "a command on the pool’s computer"


def send(client, name, act, **typed):
    return client.post(f"/people/{name}/{act}/", seen_on(client, f"/people/{name}/account/") | typed)


def told(client, name, **page):
    """(what, by whom) of each line of the account's page."""
    table = client.get(f"/people/{name}/account/", page).context["changes"]
    return [(row.get_cell_value("act"), row.get_cell_value("changed_by")) for row in table.paginated_rows]


def test_each_act_stands_on_the_page_of_the_account_with_whoever_did_it(keeper_client):
    keeper_client.post("/people/add/", NEW)
    send(keeper_client, "ottilie", "role", role="log")
    send(keeper_client, "ottilie", "password", **OTHER)
    client = Client()
    client.force_login(User.objects.get(username="ottilie"))
    client.post("/people/password/", OWN)
    send(keeper_client, "ottilie", "deactivate")
    send(keeper_client, "ottilie", "reactivate")
    assert told(keeper_client, "ottilie") == [
        ("Reactivated", "keeper"),
        ("Deactivated", "keeper"),
        ("Own password changed", "ottilie"),
        ("Password set", "keeper"),
        ("Role changed: bench hand → log", "keeper"),
        ("Made as bench hand", "keeper"),
    ]


def test_what_is_refused_or_changes_nothing_stands_nowhere(keeper_client, visitor, keeper):
    before = told(keeper_client, "visitor")
    assert send(keeper_client, "visitor", "role", role="visitor").status_code == 302
    assert send(keeper_client, "visitor", "password", password="short", again="short").status_code == 422
    send(keeper_client, "keeper", "deactivate")
    send(keeper_client, "keeper", "role", role="visitor")
    assert told(keeper_client, "visitor") == before == [("Made as visitor", SERVER)]
    assert told(keeper_client, "keeper") == [("Made as keeper", SERVER)]


def test_an_act_that_is_sent_twice_stands_there_once(keeper_client, visitor):
    form = seen_on(keeper_client, "/people/visitor/account/")
    for _ in range(2):
        keeper_client.post("/people/visitor/deactivate/", form)
    assert [what for what, _ in told(keeper_client, "visitor")] == ["Deactivated", "Made as visitor"]


@pytest.mark.django_db
def test_the_first_keeper_was_made_by_itself_and_the_accounts_of_a_command_by_nobody(client):
    keeper = add_first_keeper("mira", "muddy-hands-7")
    wren = add_person("wren", "visitor", "muddy-hands-7", by=None)
    client.force_login(keeper)
    assert told(client, "mira") == [("Made as keeper", "mira")]
    assert told(client, "wren") == [("Made as visitor", SERVER)]
    assert wren.changes.get().changed_by is None


def test_of_an_account_that_was_made_before_nothing_is_made_up(keeper_client):
    User.objects.create_user("elder", password="muddy-hands-7")
    page = keeper_client.get("/people/elder/account/").content.decode()
    assert "Nothing is recorded yet. What is done from now on stands here." in page


def test_when_it_was_done_is_told_in_the_time_of_the_pool(keeper_client, visitor):
    at = timezone.make_aware(datetime(2026, 9, 30, 18, 4))
    AccountChange.objects.filter(account=visitor).update(changed_at=at)
    assert "30 Sep 2026, 18:04" in words(keeper_client.get("/people/visitor/account/"))


def test_who_is_no_keeper_reads_nothing_of_it(bench_client, bench_hand):
    assert bench_client.get(f"/people/{bench_hand}/account/").status_code == 403


def test_a_long_trail_comes_in_pages_and_asks_as_often_as_a_short_one(keeper_client, keeper, visitor):
    def queries():
        with CaptureQueriesContext(connection) as asked:
            told(keeper_client, "visitor")
        return len(asked)

    with_one = queries()
    for number in range(10):
        add_change(visitor, f"number {number}", make_person(f"keeper-{number}"))
    assert queries() == with_one
    assert len(told(keeper_client, "visitor")) == 10
    assert told(keeper_client, "visitor", **{"changes-page": 2}) == [("Made as visitor", SERVER)]


def test_what_stands_there_is_no_markup(keeper_client, visitor, keeper):
    add_change(visitor, "<b>gate</b>", keeper)
    assert "&lt;b&gt;gate" in keeper_client.get("/people/visitor/account/").content.decode()


def test_deactivating_is_taken_back_whole_where_it_is_refused(keeper, visitor):
    with pytest.raises(Exception, match="make somebody else keeper first"):
        deactivate(keeper, by=visitor)
    assert [change.act for change in keeper.changes.all()] == ["made"]


def add_change(account, detail, by):
    AccountChange.objects.create(account=account, act="link made", detail=detail, changed_by=by)


def words(answer):
    return re.sub(r"\s+", " ", html.unescape(re.sub("<[^>]+>", " ", answer.content.decode())))
