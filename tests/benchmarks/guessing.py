"""What guessers of passwords get, and what others see meanwhile: `python tests/benchmarks/guessing.py [--port N]`

For each way of guessing a new pool is served by a process of its own. Guessers send wrong passwords as fast as answers
come, with no regard to what these say. Meanwhile the keeper opens the first page again and again, and signs in anew
with the right password, in the browser that she signed in with before and in a new one. Printed are the tries that were
judged (answered as the first wrong one), those that were refused unjudged, the server's processor time for a try, and
the keeper's times as ratios to those with nobody else. Guessers have loopback addresses of their own where it says so;
else they share the keeper's. `--seconds`: how long each way is tried.
"""

import argparse
import http.client
import os
import re
import statistics
import sys
import tempfile
import threading
import time
import urllib.parse
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parent))
from callers import HOST, signed_in, times
from served import code_in, serving

PATIENCE_S = 60
KEEPER = {"username": "mira", "password": "muddy-hands-7"}
HEADS = (
    "who guesses",
    "tries",
    "judged",
    "refused",
    "failed",
    "ms a try",
    "median",
    "worst",
    "the keeper in her browser; in a new one",
)
COLUMNS = "{:44} {:>6} {:>7} {:>8} {:>6} {:>9} {:>7} {:>7}   {}"


@dataclass
class Way:
    """So many guessers at once: at one name or at ever new ones, from addresses of their own or the keeper's."""

    words: str
    guessers: int
    one_name: bool
    own_addresses: bool = False

    def address(self, number):
        return f"127.0.1.{number + 1}" if self.own_addresses else HOST

    def name(self, number, turn):
        return KEEPER["username"] if self.one_name else f"somebody{number}-{turn}"


WAYS = (
    Way("nobody", 0, True),
    Way("1 at the keeper's name, elsewhere", 1, True, own_addresses=True),
    Way("16 at the keeper's name, each elsewhere", 16, True, own_addresses=True),
    Way("16 at ever new names, each elsewhere", 16, False, own_addresses=True),
    Way("16 at the keeper's name, her own address", 16, True),
    Way("16 at ever new names, her own address", 16, False),
)


def main(arguments=None):
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--port", type=int, default=8172)
    asked.add_argument("--seconds", type=float, default=20)
    asked = asked.parse_args(arguments)
    print(COLUMNS.format(*HEADS))
    alone_s = None
    for way in WAYS:
        seen = in_a_new_pool(way, asked.port, asked.seconds)
        alone_s = alone_s or statistics.median(seen.looks_s)
        print(line(way, seen, alone_s), flush=True)


def in_a_new_pool(way, port, seconds):
    with tempfile.TemporaryDirectory() as folder, serving(Path(folder), port) as (process, said):
        return measure(way, port, signed_in(port, code_in(said)), seconds, lambda: processor_s(process.pid))


@dataclass
class Seen:
    """`told`: how often each sort of answer came; `looks_s`: of the first page; `keeper`: how her sign-ins went."""

    told: Counter
    looks_s: list
    used_s: float
    keeper: list


def line(way, seen, alone_s):
    tries, told = seen.told.total(), seen.told
    each = f"{1000 * seen.used_s / tries:.0f}" if tries else ""
    ratios = [f"{value / alone_s:.2f}" for value in (statistics.median(seen.looks_s), max(seen.looks_s))]
    return COLUMNS.format(
        way.words, tries, told["judged"], told["refused"], told["failed"], each, *ratios, "; ".join(seen.keeper)
    )


def measure(way, port, opener, seconds, used=lambda: 0.0):
    """`Seen` of so many seconds of guessing. `used`: processor seconds of the server until now."""
    wrong = Browser(port, "127.0.2.1").open().answer_to("nobody-at-all", "not-it-either")
    own_browser = Browser(port, HOST)
    sign_in(own_browser)
    told, done, looks_s = Counter(), threading.Event(), []
    threads = [
        threading.Thread(target=guess, args=(way, number, port, wrong, told, done)) for number in range(way.guessers)
    ]
    for thread in threads:
        thread.start()
    began, before = time.monotonic(), used()
    while time.monotonic() - began < seconds / 2:
        looks_s += times(opener, port, 1)
    keeper = [sign_in(own_browser), sign_in(Browser(port, HOST))]
    while time.monotonic() - began < seconds:
        looks_s += times(opener, port, 1)
    done.set()
    used_s = used() - before
    for thread in threads:
        thread.join()
    return Seen(told, looks_s, used_s, keeper)


def guess(way, number, port, wrong, told, done):
    guesser, turn = Browser(port, way.address(number)).open(), 0
    while not done.is_set():
        turn += 1
        try:
            answer = guesser.answer_to(way.name(number, turn), f"not-it-{number}-{turn}")
        except (OSError, http.client.HTTPException):
            answer = None
        failed = answer is None or answer[0] >= 500
        # counted one at a time: each of these steps is whole under the interpreter's lock
        told.update(["failed" if failed else "judged" if answer == wrong else "refused"])


def sign_in(browser):
    """How it goes with the right password, from the keeper's own address, while others guess."""
    began = time.monotonic()
    status, said = browser.open().answer_to(**KEEPER)
    return f"in after {time.monotonic() - began:.2f} s" if status == 302 else f"kept out: {status} {said[:60]}"


class Browser:
    """Of somebody at one address; keeps its cookies."""

    def __init__(self, port, address):
        self.port, self.address, self.cookies = port, address, {}

    def open(self):
        """The form of the sign-in, for all that is typed from now on."""
        _, page = self._ask("GET")
        self.token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)[1]
        return self

    def answer_to(self, username, password):
        """(status, what the page says of it without its numbers)"""
        sent = {"username": username, "password": password, "csrfmiddlewaretoken": self.token}
        status, page = self._ask("POST", urllib.parse.urlencode(sent))
        alert = re.search(r'role="alert">(.*?)</div>', page, re.DOTALL)
        words = re.sub(r"<[^>]+>|\d+", "", alert[1] if alert else page[:300])
        return status, " ".join(words.split())

    def _ask(self, method, body=None):
        connection = http.client.HTTPConnection(HOST, self.port, PATIENCE_S, source_address=(self.address, 0))
        cookies = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        headers = {"Content-Type": "application/x-www-form-urlencoded", "Cookie": cookies}
        try:
            connection.request(method, "/sign-in/", body, headers)
            answer = connection.getresponse()
            for cookie in answer.headers.get_all("Set-Cookie", []):
                name, _, value = cookie.split(";")[0].partition("=")
                self.cookies[name] = value
            return answer.status, answer.read().decode(errors="replace")
        finally:
            connection.close()


def processor_s(process_id):
    """Linux only."""
    fields = Path(f"/proc/{process_id}/stat").read_text().rpartition(") ")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


if __name__ == "__main__":
    main()
