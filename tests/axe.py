"""axe-core over pages in a browser: `look(page)`; and by hand over every page of a running pool, in every dress.

    HALFPOWER_DATA=/tmp/eye python3 manage.py demo --port 8123
    python3 tests/axe.py http://localhost:8123 ida peat-lane-keeper

follows the links of the pool until each kind of page was met, sends forms that are refused, and looks at all of them in
both schemes, at 1280, 390 and 320 px, folds closed and open. It prints how many were looked at and every violation;
what axe leaves undecided (contrast on drawings) is counted. The suite looks at every page once, at 390 px.
"""

import argparse
import os
import re
import sys
from collections import Counter
from html import unescape
from itertools import product
from pathlib import Path
from urllib.parse import urljoin, urlsplit

from axe_playwright_python.sync_playwright import Axe

ROOT = Path(__file__).parents[1]
# all rules of axe, its good practice among them, and the one of WCAG 2.2 that it leaves out unless asked
OPTIONS = {"resultTypes": ["violations", "incomplete"], "rules": {"target-size": {"enabled": True}}}
SCHEMES, WIDTHS, FOLDS = ("light", "dark"), (1280, 390, 320), ("closed", "open")
BARS_PX = 200
HEIGHTS = {1280: 900, 390: 844, 320: 568}
# how many pages of one kind are looked at
OF_A_KIND = 1
PASSED_BY = (
    "/sign-out",
    "/policy/assessing/",
    "/files/export",
    "/files/workbook",
    "/files/template",
    "/l/",
    "/foot",
    ".csv",
    ".ics",
    "/photos/",
)
# other pages behind one path
ASKED = {"until", "by", "state", "event", "cause"}
# forms that are sent as they come, or with this in a field, and are refused
REFUSED = {
    "/events/log/": {},
    "/events/add/": {},
    "/mats/add/": {},
    "/cables/add/": {},
    "/designs/add/": {},
    "/instruments/add/": {},
    "/batches/start/": {},
    "/start/": {},
    "/people/add/": {},
    "/policy/": {"pool.age_limit_years": "no"},
    "/people/password/": {},
    "/bench/pieces/add/": {},
    "/cable-types/add/": {},
}
# the last form of the page, past what the browser itself would ask for
SEND = """() => {
  const form = [...document.querySelectorAll("main form")].filter(form => form.getAttribute("method") === "post").pop();
  form.noValidate = true;
  // a field may be called submit
  setTimeout(() => HTMLFormElement.prototype.submit.call(form));
}"""
_AXE = Axe()


def look(page, options=OPTIONS):
    """(violations, undecided): `rule (impact): target` of each node, for the page as it stands.

    On a screen as tall as the page: a bar at the foot of a short one lies over what is not scrolled to yet.
    """
    size = page.viewport_size
    tall = max(size["height"], page.evaluate("document.documentElement.scrollHeight") + BARS_PX)
    page.set_viewport_size({**size, "height": tall})
    found = _AXE.run(page, options=options).response
    page.set_viewport_size(size)
    return [_named(rule, node) for rule in found["violations"] for node in rule["nodes"]], [
        _named(rule, node) for rule in found["incomplete"] for node in rule["nodes"]
    ]


def _named(rule, node):
    target = " ".join(part if isinstance(part, str) else " ".join(part) for part in node["target"])
    return f"{rule['id']} ({rule['impact']}): {target}"


def open_folds(page):
    page.evaluate("document.querySelectorAll('details').forEach(fold => { fold.open = true })")


def kinds_of_pages(page, start):
    """{kind: [places]}: links are followed until no new kind of page turns up; a kind is a path without its codes."""
    kinds, waiting, met = {}, [start], set()
    while waiting:
        place = waiting.pop(0)
        known = kinds.setdefault(_kind(place), [])
        if place in met or len(known) >= OF_A_KIND:
            continue
        met.add(place)
        answer = page.request.get(place)
        if answer.headers.get("content-type", "").startswith("text/html"):
            known.append(place)
            waiting += _links(answer, start)
    return kinds


def _links(answer, start):
    named = [urljoin(answer.url, unescape(each)) for each in re.findall(r'<a[^>]* href="([^"#]+)', answer.text())]
    ours = dict.fromkeys(each for each in named if urlsplit(each).netloc == urlsplit(start).netloc)
    return [each for each in ours if not any(word in each for word in PASSED_BY)]


def _kind(place):
    """The path with codes, numbers and days as one letter, and what is asked of it but for order and page."""
    parts = urlsplit(place)
    path = re.sub(r"/[^/]*[\dA-Z%][^/]*(?=/|$)", "/x", parts.path)
    asked = {pair.partition("=")[0] for pair in parts.query.split("&")} & ASKED
    return f"{path}?{min(asked, default='')}"


def sign_in(page, start, name, password):
    page.goto(urljoin(start, "/sign-in/"))
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password", exact=True).fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_load_state()
    assert "/sign-in" not in page.url, "that name and password let nobody in"


def send_refused(page, start, path, typed):
    """The page of a form that was sent without what it needs."""
    page.goto(urljoin(start, path))
    assert page.locator("main form[method=post]").count(), f"{path} has no form to send"
    for name, text in typed.items():
        page.locator(f"[name='{name}']").first.fill(text)
    with page.expect_navigation():
        page.evaluate(SEND)


def states(page, start):
    """(what it is called, how to bring the page there) of every page and state that is looked at."""
    kinds = kinds_of_pages(page, start)
    for place in sorted(place for places in kinds.values() for place in places):
        yield urlsplit(place)._replace(scheme="", netloc="").geturl(), lambda place=place: page.goto(place)
    for path in ("/none-such/", "/find/?q=none-such", "/due/?cause=damage&depot=none-such"):
        yield path, lambda path=path: page.goto(urljoin(start, path))
    for path, typed in REFUSED.items():
        yield f"{path} refused", lambda path=path, typed=typed: send_refused(page, start, path, typed)


def matrix(page, start, dresses):
    """Counters of violations and of what is undecided, by dress and rule; prints each violation where it is met."""
    found, undecided, looked = Counter(), Counter(), Counter()
    for name, bring in list(states(page, start)):
        bring()
        for folds, scheme, width in dresses:
            page.emulate_media(color_scheme=scheme)
            page.set_viewport_size({"width": width, "height": HEIGHTS[width]})
            if folds == "open":
                open_folds(page)
            violations, left = look(page)
            dress = f"{scheme} {width} {folds}"
            looked[dress] += 1
            undecided.update(each.partition(" ")[0] for each in left)
            for each in violations:
                found[each.partition(" ")[0]] += 1
                print(f"{name} · {dress} · {each}", flush=True)
    return found, undecided, looked


def main():
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("start"), parser.add_argument("name"), parser.add_argument("password")
    parser.add_argument("--once", action="store_true", help="at 390 px alone, light, folds closed")
    given = parser.parse_args()
    dresses = [("closed", "light", 390)] if given.once else list(product(FOLDS, SCHEMES, WIDTHS))
    sys.path.insert(0, str(Path(__file__).parent / "browser"))
    from conftest import ARGUMENTS, chromium_path
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium_path(), args=ARGUMENTS)
        page = browser.new_page()
        page.set_default_timeout(20_000)
        sign_in(page, given.start, given.name, given.password)
        found, undecided, looked = matrix(page, given.start, dresses)
        browser.close()
    print(*(f"{dress}: {number} pages and states" for dress, number in looked.items()), sep="\n")
    print(f"violations: {dict(found) or 'none'}; undecided by axe: {dict(undecided) or 'none'}")
    sys.exit(bool(found))


if __name__ == "__main__":
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    main()
