"""What guessers of passwords get, and what others see meanwhile: `python tests/benchmarks/guessing.py [--port N]`

For each way of guessing a new pool is served by a process of its own. Guessers send wrong passwords as fast as answers
come, with no regard to what these say. Meanwhile the keeper opens the first page again and again, and once signs in
anew with the right password. Printed are the tries that were judged (answered as the first wrong one), those that were
refused unjudged, the server's processor time for a try, and the keeper's times as ratios to those with nobody else.
Guessers have loopback addresses of their own where it says so; else they share the keeper's. `--seconds`: how long each
way is tried.
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
from served import serving

PATIENCE_S = 60
KEEPER = {"username": "mira", "password": "muddy-hands-7"}
HEADS = ("who guesses", "tries", "judged", "refused", "failed", "ms a try", "median", "worst", "keeper")
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
    with tempfile.TemporaryDirectory() as folder, serving(Path(folder), port) as (process, _):
        return measure(way, port, signed_in(port), seconds, lambda: processor_s(process.pid))


@dataclass
class Seen:
    """`told`: how often each sort of answer came; `looks_s`: of the first page; `keeper`: how her own sign-in went."""

    told: Counter
    looks_s: list
    used_s: float
    keeper: str


def line(way, seen, alone_s):
    tries, told = seen.told.total(), seen.told
    each = f"{1000 * seen.used_s / tries:.0f}" if tries else ""
    ratios = [f"{value / alone_s:.2f}" for value in (statistics.median(seen.looks_s), max(seen.looks_s))]
    return COLUMNS.format(way.words, tries, told["judged"], told["refused"], told["failed"], each, *ratios, seen.keeper)


def measure(way, port, opener, seconds, used=lambda: 0.0):
    """`Seen` of so many seconds of guessing. `used`: processor seconds of the server until now."""
    wrong = Guesser(port, HOST).answer_to("nobody-at-all", "not-it-either")
    told, done, looks_s = Counter(), threading.Event(), []
    threads = [
        threading.Thread(target=guess, args=(way, number, port, wrong, told, done)) for number in range(way.guessers)
    ]
    for thread in threads:
        thread.start()
    began, before = time.monotonic(), used()
    while time.monotonic() - began < seconds / 2:
        looks_s += times(opener, port, 1)
    keeper = as_keeper(port)
    while time.monotonic() - began < seconds:
        looks_s += times(opener, port, 1)
    done.set()
    used_s = used() - before
    for thread in threads:
        thread.join()
    return Seen(told, looks_s, used_s, keeper)


def guess(way, number, port, wrong, told, done):
    guesser, turn = Guesser(port, way.address(number)), 0
    while not done.is_set():
        turn += 1
        try:
            answer = guesser.answer_to(way.name(number, turn), f"not-it-{number}-{turn}")
        except (OSError, http.client.HTTPException):
            answer = None
        failed = answer is None or answer[0] >= 500
        # counted one at a time: each of these steps is whole under the interpreter's lock
        told.update(["failed" if failed else "judged" if answer == wrong else "refused"])


def as_keeper(port):
    """The right password, from the keeper's own address, while others guess."""
    began = time.monotonic()
    status, said = Guesser(port, HOST).answer_to(**KEEPER)
    return f"in after {time.monotonic() - began:.2f} s" if status == 302 else f"kept out: {status} {said[:100]}"


class Guesser:
    """Somebody with a browser of their own at one address."""

    def __init__(self, port, address):
        self.port, self.address = port, address
        _, page, cookies = self._ask("GET", "/sign-in/")
        self.cookie = "; ".join(each.split(";")[0] for each in cookies)
        self.token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)[1]

    def answer_to(self, username, password):
        """(status, what the page says of it without its numbers)"""
        sent = {"username": username, "password": password, "csrfmiddlewaretoken": self.token}
        status, page, _ = self._ask("POST", "/sign-in/", urllib.parse.urlencode(sent), self.cookie)
        alert = re.search(r'role="alert">(.*?)</div>', page, re.DOTALL)
        words = re.sub(r"<[^>]+>|\d+", "", alert[1] if alert else page[:300])
        return status, " ".join(words.split())

    def _ask(self, method, place, body=None, cookie=""):
        connection = http.client.HTTPConnection(HOST, self.port, PATIENCE_S, source_address=(self.address, 0))
        headers = {"Content-Type": "application/x-www-form-urlencoded", "Cookie": cookie}
        try:
            connection.request(method, place, body, headers)
            answer = connection.getresponse()
            return answer.status, answer.read().decode(errors="replace"), answer.headers.get_all("Set-Cookie", [])
        finally:
            connection.close()


def processor_s(process_id):
    """Linux only."""
    fields = Path(f"/proc/{process_id}/stat").read_text().rpartition(") ")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


if __name__ == "__main__":
    main()
