"""Every kind of page once in a real browser: what each page asks for, names and complains of.

For whoever asks something of all pages as a browser sees them: that nothing leaves the machine (`Visit.outside`), that
no policy of the pages refuses what they do (`complaints`). The fixture `every_page` of `tests/browser` walks once for
all tests that want it.
"""

import re
from dataclasses import dataclass, field
from urllib.parse import urljoin, urlsplit

from addresses import FILES_OUT, PATTERNS, address, make_examples
from axe import look
from django.test import Client
from photos import make_pictures

# Also what is fetched later or without a request that shows: rules for paper and other widths, hints to connect.
NAMED = r"""() => {
  const names = ["src", "srcset", "href", "xlink:href", "action", "formaction", "ping", "data", "poster"];
  const marked = names.flatMap(name => [...document.querySelectorAll(`[${CSS.escape(name)}]`)]
    .map(each => [name, each.getAttribute(name)]).filter(([_, text]) => /:|\/\/|\\/.test(text)));
  const own = [...document.styleSheets].filter(sheet => !sheet.href || sheet.href.startsWith(location.origin + "/"));
  const rules = [...own.flatMap(sheet => [...sheet.cssRules].map(rule => rule.cssText)),
    ...[...document.querySelectorAll("[style]")].map(each => each.getAttribute("style"))];
  return [...marked, ...rules.filter(text => /url\(|@import/.test(text)).map(text => ["style", text])];
}"""
IN_A_RULE = re.compile(r"""(?:url\(|@import )\s*["']?([^"')]+)""")
# what goes on beside the request, in a thread or a file
BESIDE = {"assess-again", *FILES_OUT}
# what no network is asked for
INSIDE = ("data", "blob", "about")


@dataclass
class Visit:
    """A page: what the browser asked for, what else page and rules name, what the browser wrote to its console.

    `violations`: of the rules of axe, as the page stands at the width of a phone.
    """

    place: str
    status: int = 0
    requests: list = field(default_factory=list)
    named: list = field(default_factory=list)
    complaints: list = field(default_factory=list)
    violations: list = field(default_factory=list)

    def outside(self):
        """Every address that leads away from the machine that served the page."""
        return sorted(filter(self.leaves, {urljoin(self.place, each) for each in [*self.requests, *self.named]}))

    def leaves(self, url):
        parts = urlsplit(url)
        return parts.scheme not in INSIDE and parts.netloc != urlsplit(self.place).netloc

    def note(self, said):
        own_status = said.location.get("url") == self.place and "status of" in said.text
        if said.type in ("error", "warning") and not own_status:
            self.complaints.append(said.text)


def pages_for(person):
    """Places at which somebody sees every template that any address of the project shows, refusals included.

    A quick client looks first: downloads, redirects and answers without a word are no pages.
    """
    client, examples, seen = Client(), make_examples(), set()
    client.force_login(person)
    make_pictures()
    for place in sorted({address(route, examples) for name, route in PATTERNS if name not in BESIDE}):
        answer = client.get(place)
        shown = {template.name for template in answer.templates}
        if is_page(answer) and not shown <= seen:
            seen |= shown
            yield place


def is_page(answer):
    is_shown = not 300 <= answer.status_code < 400 and not answer.streaming and answer.content
    return is_shown and answer["Content-Type"].startswith("text/html")


def visit(page, place):
    seen = Visit(place)
    heard = {"request": lambda asked: seen.requests.append(asked.url), "console": seen.note}
    for event, listener in heard.items():
        page.on(event, listener)
    seen.status = page.goto(place).status
    seen.named = [each for name, text in page.evaluate(NAMED) for each in addresses_in(name, text)]
    for event, listener in heard.items():
        page.remove_listener(event, listener)
    seen.violations, _ = look(page)
    return seen


def addresses_in(name, text):
    if name == "style":
        return IN_A_RULE.findall(text)
    return [each.split()[0] for each in text.split(",") if each.strip()] if name == "srcset" else [text]
