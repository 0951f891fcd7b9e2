"""What others see while callers are slow or greedy: `python tests/benchmarks/callers.py [--port N] [--quick]`

A new pool is served by a process of its own, and its keeper opens the first page again and again: with nobody else,
beside half requests, idle connections, senders of single bytes, and uploads of 150 MB by somebody who is not signed in.
Printed are the keeper's times as ratios to those with nobody else, how long until the callers were cut off, and what
lay on the disk meanwhile. `--quick`: fewer of all, and nobody waits until they are cut off.
"""

import argparse
import os
import re
import socket
import statistics
import sys
import tempfile
import threading
import time
import urllib.parse
import urllib.request
from contextlib import contextmanager
from http.cookiejar import CookieJar
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from served import code_in, free_port, serving

HOST = "127.0.0.1"
HALF = b"POST /events/log/ HTTP/1.1\r\nHost: localhost\r\nContent-Le"
LARGE = 150 * 2**20
HEAD = "POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: {type}\r\nContent-Length: {size}\r\n\r\n"
PATIENCE_S = 90


def main(arguments=None):
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--port", type=int, default=free_port())
    asked.add_argument("--quick", action="store_true")
    asked = asked.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder, serving(Path(folder), asked.port) as (process, said):
        measure(asked.port, process.pid, signed_in(asked.port, code_in(said)), asked.quick)


def measure(port, process_id, opener, quick):
    looks, few = (1, 11) if quick else (40, 1)
    alone = times(opener, port, looks)
    print(f"{'callers':42} {'median':>7} {'worst':>7}   cut off after   on the disk")
    say("nobody else", alone, alone)
    for what, number, callers in [
        ("half requests", 110 // few, waiting(port, HALF)),
        ("idle connections", 60 // few, waiting(port, b"")),
        ("a byte a second", 110 // few, dribbling(port)),
        ("150 MB, not signed in, to /files/", 3, sending(port, "/files/")),
        ("150 MB, not signed in, to /sign-in/", 3, sending(port, "/sign-in/")),
    ]:
        with callers(number) as lines, watching(process_id) as most:
            seen = times(opener, port, looks)
            cut_s = None if quick else until_cut(lines)
        say(f"{number} × {what}", seen, alone, cut_s, most[0])


def say(what, seen, alone, cut_s=None, most_bytes=0):
    median, worst = (each(seen) / statistics.median(alone) for each in (statistics.median, max))
    cut = "" if cut_s is None else f"{cut_s:.0f} s"
    print(f"{what:42} {median:7.2f} {worst:7.2f}   {cut:13}   {most_bytes / 2**20:.1f} MB", flush=True)


def signed_in(port, code):
    """The first account is made as people make it."""
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
    with opener.open(f"http://{HOST}:{port}/", timeout=PATIENCE_S) as first:
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', first.read().decode())[1]
    sent = {"name": "mira", "password": "muddy-hands-7", "again": "muddy-hands-7"}
    sent |= {"code": code, "csrfmiddlewaretoken": token}
    opener.open(first.url, urllib.parse.urlencode(sent).encode(), timeout=PATIENCE_S).read()
    return opener


def times(opener, port, looks):
    """Seconds for the first page, each time over a connection of its own."""
    taken = []
    for _ in range(looks):
        began = time.monotonic()
        page = opener.open(f"http://{HOST}:{port}/", timeout=PATIENCE_S)
        assert "Sign out" in page.read().decode()
        taken.append(time.monotonic() - began)
        time.sleep(0.05)
    return taken


def waiting(port, sent):
    @contextmanager
    def callers(number):
        lines = [connect(port) for _ in range(number)]
        for line in lines:
            line.sendall(sent)
        yield lines
        for line in lines:
            line.close()

    return callers


def dribbling(port):
    @contextmanager
    def callers(number):
        done = threading.Event()

        def dribble(lines):
            while not done.wait(1):
                for line in lines:
                    try:
                        line.send(b"x")
                    except OSError:
                        continue

        with waiting(port, head("/events/log/", 10_000))(number) as lines:
            thread = threading.Thread(target=dribble, args=(lines,))
            thread.start()
            yield lines
            done.set()
            thread.join()

    return callers


def sending(port, path):
    """Each sends all that it can, as fast as it can, in a thread of its own."""

    def send(line):
        try:
            line.sendall(head(path, LARGE))
            for _ in range(LARGE // 2**20):
                line.sendall(b"x" * 2**20)
        except OSError:
            return

    @contextmanager
    def callers(number):
        lines = [connect(port) for _ in range(number)]
        threads = [threading.Thread(target=send, args=(line,)) for line in lines]
        for thread in threads:
            thread.start()
        yield lines
        for line in lines:
            line.close()
        for thread in threads:
            thread.join()

    return callers


def head(path, size):
    return HEAD.format(path=path, size=size, type="application/x-www-form-urlencoded").encode()


def connect(port):
    return socket.create_connection((HOST, port), timeout=PATIENCE_S)


def until_cut(lines):
    """Seconds from now until the last of them was closed by the other side, or answered and closed."""
    began = time.monotonic()
    for line in lines:
        try:
            while line.recv(4096):
                pass
        except OSError:
            continue
    return time.monotonic() - began


@contextmanager
def watching(process_id):
    """[the most bytes that the server had in files without a name at any time meanwhile]; Linux only."""
    most, done = [0], threading.Event()

    def watch():
        while not done.wait(0.02):
            most[0] = max(most[0], unnamed_bytes(process_id))

    thread = threading.Thread(target=watch)
    thread.start()
    yield most
    done.set()
    thread.join()


def unnamed_bytes(process_id):
    total = 0
    try:
        for entry in os.scandir(f"/proc/{process_id}/fd"):
            if "(deleted)" in os.readlink(entry.path):
                total += os.stat(entry.path).st_size
    except OSError:
        pass
    return total


if __name__ == "__main__":
    main()
