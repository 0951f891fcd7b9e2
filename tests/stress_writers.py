"""The writers of `stress.py`: each a browser over HTTP, with mats and spares of its own."""

import html
import http.client
import random
import re
import time
import urllib.error
import urllib.request
from collections import namedtuple
from datetime import timedelta
from http.cookiejar import CookieJar
from itertools import count
from urllib.parse import urlencode

from stress_pool import EVENT_DAYS, KIND, MATS_EACH, PASSWORD, POSITIONS

# what a browser meets when the server dies
BROKEN = (OSError, http.client.HTTPException)
TIMEOUT_S = 60
# of the orders raised, so many; the others are withdrawn
SIGNED_OFF = 0.6


Form = namedtuple("Form", "place fields act")


class NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *args):
        return None


class Browser:
    def __init__(self, address):
        self.address, self.cookies = address, CookieJar()
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.cookies), NoRedirect)

    def get(self, place):
        return self._open(urllib.request.Request(self.address + place))

    def send(self, place, fields):
        """(status, address led to, page)"""
        request = urllib.request.Request(self.address + place, urlencode(fields, doseq=True).encode())
        request.add_header("Origin", self.address)
        return self._open(request)

    def _open(self, request):
        try:
            answer = self.opener.open(request, timeout=TIMEOUT_S)
        except urllib.error.HTTPError as error:
            answer = error
        with answer:
            return answer.status, answer.headers.get("Location", ""), answer.read().decode()


def hidden_fields(page):
    main = page.partition("<main")[2]
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', main)
    found += re.findall(r'<textarea name="([^"]+)" hidden>\n(.*?)</textarea>', main, re.DOTALL)
    return {name: html.unescape(value) for name, value in found}


class Writer:
    """Confirmed: (kind, act) of each redirect seen. Sent: the form that is out and has no answer yet."""

    def __init__(self, number, address, on, seed):
        self.number, self.on, self.browser = number, on, Browser(address)
        self.random, self.acts, self.spares = random.Random(f"{seed}-{number}"), count(1), count()
        self.confirmed, self.refused, self.sent, self.order, self.slowest_s, self.counted = [], [], None, None, 0.0, 0

    def sign_in(self):
        fields = hidden_fields(self.browser.get("/sign-in/")[2])
        fields |= {"username": f"keeper{self.number}", "password": PASSWORD}
        status, _, _ = self.browser.send("/sign-in/", fields)
        assert status == 302, f"keeper{self.number} could not sign in: {status}"

    def write_until(self, stop):
        """One act after another until told to stop, or until the server is gone."""
        while not stop.is_set():
            try:
                self.random.choice((self.log_event, self.measure, self.fit, self.move, self.raise_or_answer))()
            except BROKEN:
                return

    def send_again(self):
        """The form that got no answer. An order taken back already says so, which is an answer too."""
        place, fields, act = self.sent
        self.send(place, fields, act)
        if self.refused and act[0] == "withdraw" and "was withdrawn on" in self.refused[-1]:
            self.refused.pop()
            self.confirmed.append(act)
            self.order = None

    def send_in_vain(self, form):
        """What the page says that refuses a form, and the fields it offers to send again."""
        status, _, page = self.browser.send(*form[:2])
        said = re.search(r'<p class="lead">([^<]*)', page)
        return f"{status} {said and said.group(1)}", hidden_fields(page)

    def event_form(self):
        number = next(self.acts)
        name, place = f"run {self.number}.{number}", "/events/log/"
        first = self.on - timedelta(days=EVENT_DAYS * number)
        last = first + timedelta(days=EVENT_DAYS - 1)
        fields = {"event": "new", "name": name, "starts_on": first, "ends_on": last, "act": "log"}
        fields |= {"counts_for": 1, "basis": "counted", "paste": " ".join(self._mats())}
        return Form(place, hidden_fields(self._page(place)) | fields, ("event", name))

    def log_event(self):
        self.send(*self.event_form())

    def measure(self):
        act = f"hand {self.number}.{next(self.acts)}"
        place = f"/bench/{self._mat()}/"
        page = self._page(place)
        fields = {"measured_on": self.on, "reason": "routine", "measured_by": act}
        names = sorted(set(re.findall(r'name="(found-\d+)"', page)))
        fields |= {name: f"{self.random.uniform(0.8, 2.8):.2f}" for name in names}
        self.send(place, hidden_fields(page) | fields, ("bench", act))

    def fit(self):
        act = f"because {self.number}.{next(self.acts)}"
        place = f"/mats/{self._mat()}/positions/{self.random.randint(1, POSITIONS)}/fit/"
        fields = {"segment": f"S-{self.number}-{next(self.spares)}", "fitted_on": self.on, "basis": "known"}
        self._ask_and_send(place, fields | {"reason": act, "goes": "thrown away"}, ("fit", act))

    def move(self):
        """One cable out of the own box to where nobody says."""
        act, place = f"cable {self.number}.{next(self.acts)}", f"{KIND}move/"
        fields = {f"pile-{self.number + 1}": 1, "to": "", "day": self.on, "note": act}
        self._ask_and_send(place, fields, ("move", act))

    def raise_or_answer(self):
        if self.order and self.random.random() < SIGNED_OFF:
            return self.sign_off()
        if self.order:
            reason, place = f"over {self.number}.{next(self.acts)}", f"/work-orders/{self.order}/withdraw/"
            return self._ask_and_send(place, {"reason": reason}, ("withdraw", reason))
        place = "/work-orders/raise/"
        page = self._page(f"{place}?mat={self._mat()}")
        serials = re.findall(r'name="segments" value="([^"]+)"', page)
        return self.send(place, hidden_fields(page) | {"segments": serials}, ("order", None))

    def sign_off(self):
        """All that is to do by the order, with spares from the shelf and a reading of each.

        Not with numbers that the app gives: rows that tests make beside it would come by the same ones.
        """
        act, place = f"order {self.number}.{next(self.acts)}", f"/work-orders/{self.order}/done/"
        page = self._page(place)
        ticked = re.findall(r'name="change-(\d+)"[^>]* checked', page)
        fields = hidden_fields(page) | {f"change-{position}": "on" for position in ticked}
        fields |= {f"new-{position}": f"S-{self.number}-{next(self.spares)}" for position in ticked}
        fields |= {"changed_on": self.on, "basis": "known", "measured_by": act, "goes": "thrown away"}
        fields |= {"all-why": act, "all-loss": " ".join(["0.7"] * len(ticked))}
        self.send(place, fields, ("sign", act))

    def _mats(self):
        return [f"H-{self.number}-{number}" for number in range(MATS_EACH)]

    def _mat(self):
        return self.random.choice(self._mats())

    def _page(self, place):
        began = time.monotonic()
        status, _, page = self.browser.get(place)
        self.slowest_s = max(self.slowest_s, time.monotonic() - began)
        if status != 200:
            self.refused.append(f"GET {place}: {status} {time.strftime('%H:%M:%S')}")
        return page

    def _ask_and_send(self, place, fields, act):
        self.send(place, hidden_fields(self._page(place)) | fields, act)

    def send(self, place, fields, act):
        self.sent, began = (place, fields, act), time.monotonic()
        status, led_to, page = self.browser.send(place, fields)
        self.slowest_s = max(self.slowest_s, time.monotonic() - began)
        self.sent = None
        asked = re.search(r'name="confirmed" value="([^"]+)"', page)
        if status == 422 and asked and "confirmed" not in fields:
            # a reading far from what was expected: it is meant
            self.send(place, fields | hidden_fields(page) | {"confirmed": asked[1]}, act)
            return
        if status != 302:
            said = re.sub(r"<[^>]+>|\s+", " ", page.partition("<main")[2])[:400]
            self.refused.append(f"{act} at {place}: {status} {said}")
            return
        kind, name = act
        if kind in ("order", "withdraw", "sign"):
            self.order = led_to.rstrip("/").rpartition("/")[2] if kind == "order" else None
        self.confirmed.append((kind, name or self.order))
