"""No page asks for anything that its own server does not have: no font, no script, no picture, no hint to connect."""

import re
from pathlib import Path

import pytest
from page_walk import visit

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
ROOT = Path(__file__).parents[2]


def test_no_page_of_a_keeper_leaves_the_machine(every_page):
    shown = [seen for seen in every_page if seen.status == 200]
    assert len(shown) > 60
    assert all(len(seen.requests) > 1 for seen in shown)  # each asks for its style sheet at least
    assert {seen.place: seen.outside() for seen in every_page if seen.outside()} == {}


def test_no_page_of_nobody_leaves_the_machine(open_page, live_server, keeper):
    page = open_page()
    for place in ("/sign-in/", "/due/", "/none-such/"):
        assert visit(page, live_server.url + place).outside() == []


def test_the_page_of_the_first_account_leaves_the_machine_neither(open_page, live_server):
    page = open_page()
    seen = visit(page, live_server.url + "/")
    assert page.url.endswith("/first-account/")
    assert seen.outside() == []


WAYS = {
    "picture": "<img src='{far}'>",
    "scheme": "<img src='//far.invalid/scheme'>",
    "sharper": "<img srcset='/x.png 1x, {far} 2x'>",
    "frame": "<iframe src='{far}'></iframe>",
    "script": "<script src='{far}'></script>",
    "fetch": "<script>fetch('{far}').catch(() => 0)</script>",
    "ping": "<a ping='{far}' href='/'>away</a>",
    "connect": "<link rel='preconnect' href='{far}'>",
    "prefetch": "<link rel='prefetch' href='{far}'>",
    "icon": "<link rel='icon' href='{far}'>",
    "sheet": "<style>@import '{far}';</style>",
    "paper": "<style>@media print {{ p {{ background: url({far}) }} }}</style>",
    "font": "<style>@font-face {{ font-family: far; src: url({far}) }}</style>",
    "inline": "<p style='background: url({far})'>A page.",
}


def test_the_walk_sees_each_way_in_which_a_page_could_leave_the_machine(open_page, live_server):
    page = open_page()
    body = "".join(element.format(far=f"http://far.invalid/{way}") for way, element in WAYS.items())
    page.route("**/sign-in/", lambda route: route.fulfill(content_type="text/html", body=body))
    outside = visit(page, live_server.url + "/sign-in/").outside()
    assert outside == sorted(f"http://far.invalid/{way}" for way in WAYS)


def test_no_template_and_no_static_file_names_another_machine():
    """The pages that a walk does not meet, as those of a full disk, are among them."""
    named = {}
    for path in [*(ROOT / "templates").rglob("*"), *(ROOT / "static").rglob("*.*s")]:
        if path.suffix in (".html", ".css", ".js", ".svg"):
            found = set(re.findall(r"//([\w-]+\.[\w.-]+)", path.read_text(encoding="utf-8"))) - {"127.0.0.1"}
            named |= {path.name: found} if found else {}
    assert named == {}
