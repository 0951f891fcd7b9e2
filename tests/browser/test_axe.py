"""The rules of axe on every kind of page, at the width of a phone; all widths, schemes and folds: `tests/axe.py`."""

import pytest
from axe import look

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_no_page_breaks_a_rule_of_axe(every_page):
    assert {seen.place: seen.violations for seen in every_page if seen.violations} == {}


WRONG = """<!doctype html><html lang="en"><title>Wrong</title><main><h1>Wrong</h1>
<input><p style="color: #aaa">faint</p><table><tr><th></th><td>1</td></tr></table>
<p><a href="/a" style="font-size: 8px">a</a> <button style="width: 9px; height: 9px">b</button></main>"""


def test_the_rules_find_what_is_wrong(open_page, live_server):
    page = open_page(viewport={"width": 390, "height": 844})
    page.route("**/wrong/", lambda route: route.fulfill(content_type="text/html", body=WRONG))
    page.goto(live_server.url + "/wrong/")
    broken = {each.partition(" ")[0] for each in look(page)[0]}
    assert {"label", "color-contrast", "target-size"} <= broken
