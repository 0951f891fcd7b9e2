"""Seven names lead everywhere: what stands in the navigation, for whom, and where a page says that it stands."""

import re

import pytest
from factories import make_depot, make_mat

from inspections.models import PolicyValue

NOWHERE = "/no-such-page/"
GROUPS = ["Today", "Due", "Mats", "Events", "Bench", "Workshop", "Limits"]


def navs_of(client, path=NOWHERE):
    """{name of the nav: [(label, address, aria-current)]}."""
    page = client.get(path).content.decode()
    navs = re.findall(r'<nav class="[^"]*" aria-label="([^"]+)">(.*?)</nav>', page, re.DOTALL)
    return {name: links_in(nav) for name, nav in navs}


def links_in(html):
    links = re.findall(r"<a ([^>]*)>([^<]+)</a>", html)
    return [(label, *(of(attributes, name) for name in ("href", "aria-current"))) for attributes, label in links]


def of(attributes, name):
    found = re.search(rf'{name}="([^"]*)"', attributes)
    return found[1] if found else ""


def labels(links):
    return [label for label, *_ in links]


def current(links):
    return [(label, mark) for label, _, mark in links if mark]


def account_of(client, path=NOWHERE):
    page = client.get(path).content.decode()
    (menu,) = re.findall(r'<details class="account">(.*?)</details>', page, re.DOTALL)
    return labels(links_in(menu))


def test_nobody_signed_in_sees_no_navigation(client, keeper):
    page = client.get("/sign-in/").content.decode()
    assert 'href="#main"' in page
    assert "<nav" not in page


def test_navigation_leads_a_signed_in_person_and_ends_with_signing_out(keeper_client):
    page = keeper_client.get(NOWHERE).content.decode()
    assert "There is no page at this address" in page
    assert list(navs_of(keeper_client)) == ["Main", "Main, at the thumb"]
    assert page.count('<form method="post" action="/sign-out/">') == 2


def test_a_keeper_finds_every_page_from_seven_names(keeper_client):
    assert labels(navs_of(keeper_client)["Main"]) == GROUPS
    assert labels(navs_of(keeper_client)["Main, at the thumb"])[:4] == ["Today", "Due", "Log event", "Bench"]


def test_what_is_done_once_stands_behind_the_name(keeper_client, visitor_client):
    assert account_of(keeper_client) == ["People", "Files", "Back-ups", "Labels", "Glossary", "Your account"]
    assert account_of(visitor_client) == ["Files", "Labels", "Glossary", "Your account"]
    # a single depot is not shown
    make_mat("M-001", depot=make_depot("Quay Street"))
    make_mat("M-002", depot=make_depot("Upper Mill"))
    assert account_of(keeper_client) == ["Depots", "People", "Files", "Back-ups", "Labels", "Glossary", "Your account"]


def test_a_group_opens_on_a_page_of_its_own_and_each_is_one_click_from_the_others(keeper_client):
    """Also to the phone's menu, where the groups stand below one another."""
    in_menu = labels(navs_of(keeper_client)["Main, at the thumb"])
    for label, address, _ in navs_of(keeper_client)["Main"]:
        answer = keeper_client.get(address)
        assert answer.status_code == 200
        assert current(navs_of(keeper_client, address)["Main"]) == [(label, "page")]
        others = navs_of(keeper_client, address).get(label, [])
        assert {name for name, *_ in others} <= set(in_menu)
        for other, there, _ in others:
            navs = navs_of(keeper_client, there)
            assert (current(navs["Main"])[0][0], current(navs[label])) == (label, [(other, "page")])


@pytest.mark.parametrize(
    ("path", "group", "place"),
    [
        ("/", ("Today", "page"), None),
        ("/mats/M-404/", ("Mats", "true"), ("Mats", "true")),
        ("/cables/C-404/correct/", ("Mats", "true"), ("Cables", "true")),
        ("/events/log/", ("Events", "true"), ("Log an event", "page")),
        ("/events/E-404/", ("Events", "true"), ("Events", "true")),
        ("/bench/M-404/", ("Bench", "true"), ("Measure", "true")),
        ("/bench/pieces/", ("Bench", "true"), ("Reference pieces", "page")),
        ("/agreed-values/404/correct/", ("Bench", "true"), ("Reference pieces", "true")),
        ("/policy/designs/F-404/", ("Limits", "true"), ("Limits in force", "true")),
    ],
)
def test_a_page_shows_where_it_stands(keeper_client, path, group, place):
    navs = navs_of(keeper_client, path)
    assert current(navs["Main"]) == [group]
    assert current(navs.get(group[0], [])) == ([place] if place else [])


def test_a_page_of_the_account_stands_in_no_group(keeper_client):
    page = keeper_client.get("/people/password/").content.decode()
    assert re.findall(r'href="([^"]+)" aria-current="(\w+)"', page) == [("/people/password/", "page")] * 2


def test_who_does_not_measure_finds_what_was_measured_and_mats_at_the_thumb(visitor_client):
    navs = navs_of(visitor_client)
    assert ("Bench", "/samples/", "") in navs["Main"]
    assert labels(navs["Main, at the thumb"])[:4] == ["Today", "Due", "Mats", "Events"]


def test_who_logs_finds_that_at_the_thumb(log_client):
    assert labels(navs_of(log_client)["Main, at the thumb"])[:4] == ["Today", "Due", "Log event", "Mats"]


def test_bench_is_hidden_where_no_depot_measures_but_on_its_own_pages(keeper_client):
    quay, mill = make_depot("Quay"), make_depot("Mill")
    make_mat(depot=quay), make_mat(depot=mill)
    PolicyValue.objects.create(setting="has_bench", value=0, depot=quay)
    assert "Bench" in labels(navs_of(keeper_client)["Main"])
    PolicyValue.objects.create(setting="has_bench", value=0, depot=mill)
    assert labels(navs_of(keeper_client)["Main"]) == [label for label in GROUPS if label != "Bench"]
    assert labels(navs_of(keeper_client)["Main, at the thumb"])[:4] == ["Today", "Due", "Log event", "Mats"]
    assert ("Bench", "true") in current(navs_of(keeper_client, "/instruments/")["Main"])


def test_a_pool_without_a_bench_has_one_again_with_the_first_depot_that_measures(keeper_client):
    PolicyValue.objects.create(setting="has_bench", value=0)
    make_mat(depot=make_depot("Mill"))
    assert "Bench" not in labels(navs_of(keeper_client)["Main"])
    PolicyValue.objects.create(setting="has_bench", value=1, depot=make_mat(depot=make_depot("Quay")).depot)
    assert "Bench" in labels(navs_of(keeper_client)["Main"])
