"""What the tests of the queue have in common: a phone in the field, and what the pool has of it in the end."""

import re
from contextlib import contextmanager

from fleet.models import Event, UsageEvent

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
# as a browser is over plain http: no service worker
OPEN_PAGE = PHONE | {"service_workers": "block"}
LOG = "/events/log/"
READY = re.compile(r"/events/log/ready/")
ONCE = {"Hill run": ["4", "8"]}


def type_event(page, name="Hill run", mats=("4", "8")):
    if page.locator("#id_event_new").count():
        page.locator("#id_event_new").check(force=True)
    page.get_by_label("Name").fill(name)
    for number in mats:
        page.locator(f"[name=mats][value='{number}']").check(force=True)


def log_it(page):
    page.get_by_role("button", name="Log the event").tap()


def stored():
    """{event: the mats that went}."""
    went = UsageEvent.objects.filter(state="went").order_by("event__name", "mat__number")
    by_event = {}
    for name, number in went.values_list("event__name", "mat__number"):
        by_event.setdefault(name, []).append(number)
    assert Event.objects.count() == len(by_event)
    return by_event


def says(page, words):
    page.locator("[data-queue-strip]", has_text=words).wait_for()


def slow(page, latency_ms):
    page.context.new_cdp_session(page).send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": latency_ms, "downloadThroughput": -1, "uploadThroughput": -1},
    )


@contextmanager
def offline(page):
    page.context.set_offline(True)
    yield
    page.context.set_offline(False)


def chosen(name, content):
    return {"name": name, "mimeType": "image/jpeg", "buffer": content}


def report(page, *photos, tap="wet"):
    """On the page on which a fault is reported."""
    page.locator("[name=photos]").set_input_files(list(photos))
    page.get_by_role("button", name=tap).tap()
