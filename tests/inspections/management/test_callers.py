"""Slow and greedy callers, over real connections: they are cut off, and the others do not wait."""

import socket
import threading
import time
from contextlib import ExitStack, contextmanager

import pytest
import waitress
from django.conf import settings

from fleet.services.session_keys import new_key
from inspections.management import callers

# as long as the pool's own server waits, here: the same clock, thirty times as fast
SILENT_S = 1
PATIENCE_S = 10
# more than a thread gives away without waiting
MUCH = 32 * callers.MIB
HALF = b"POST /events/log/ HTTP/1.1\r\nHost: localhost\r\nContent-Le"


def cookie(key):
    return f"Cookie: {settings.SESSION_COOKIE_NAME}={key}\r\n".encode()


COOKIE, INVENTED = cookie(new_key()), cookie("x" * 48)


def application(environ, start_response):
    sent = len(environ["wsgi.input"].read())
    start_response("200 OK", [("Content-Type", "text/plain")])
    if environ["PATH_INFO"] == "/much":
        return [b"x" * callers.MIB for _ in range(MUCH // callers.MIB)]
    return [f"{environ['REQUEST_METHOD']} {sent}".encode()]


@pytest.fixture
def server():
    limits = callers.LIMITS | {"channel_timeout": SILENT_S, "cleanup_interval": 0.2}
    listening = socket.create_server(("127.0.0.1", 0))
    served = waitress.create_server(application, sockets=[listening], **limits)
    callers.keep_from_waiting(served)
    thread = threading.Thread(target=served.run, daemon=True)
    thread.start()
    yield served
    served.task_dispatcher.shutdown()
    served.close()
    thread.join(PATIENCE_S)


def connect(server):
    return socket.create_connection(("127.0.0.1", server.effective_port), timeout=PATIENCE_S)


def answer_to(server, request):
    with connect(server) as line:
        line.sendall(request)
        return read(line)


def read(line):
    """All that comes until the other side closes, which it may do with what was sent unread."""
    got = b""
    try:
        while data := line.recv(4096):
            got += data
    except ConnectionResetError:
        pass
    return got.decode()


def hear(line, words):
    """Wait for an answer on a connection that stays open."""
    got = b""
    while words.encode() not in got:
        data = line.recv(4096)
        assert data, got
        got += data


def page(server):
    began = time.monotonic()
    answer = answer_to(server, b"GET / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
    assert answer.startswith("HTTP/1.1 200 OK")
    return time.monotonic() - began


def head(length, path="/events/log/", more=b""):
    return f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Length: {length}\r\n".encode() + more + b"\r\n"


@contextmanager
def held(server, number, sent):
    with ExitStack() as stack:
        lines = [stack.enter_context(connect(server)) for _ in range(number)]
        for line in lines:
            line.sendall(sent)
        yield lines


@pytest.mark.parametrize("sent", [b"", HALF, head(1000) + b"half"], ids=["nothing", "half a head", "half a form"])
def test_a_hundred_who_send_no_more_stop_nobody_and_are_cut_off(server, sent):
    with held(server, 110, sent) as lines:
        assert page(server) < SILENT_S
        assert {read(line) for line in lines} == {""}


def test_whoever_sends_a_byte_now_and_then_is_cut_off_too(server):
    began = time.monotonic()
    with connect(server) as line, pytest.raises(OSError):
        line.sendall(head(10_000))
        while time.monotonic() - began < PATIENCE_S:
            line.sendall(b"x")
            time.sleep(0.1)
    assert time.monotonic() - began < 4 * SILENT_S


def test_whoever_asks_for_more_before_the_answer_is_there_gets_one(server):
    asked = b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n"
    answer = answer_to(server, asked * 100)
    assert (answer.count("GET 0"), answer.count("HTTP/1.1 400")) == (1, 1)


@pytest.mark.parametrize("takes", [0, 200], ids=["nothing", "a little now and then"])
def test_eight_who_ask_for_much_and_do_not_take_it_stop_nobody_and_are_cut_off(server, takes):
    with held(server, 8, b"GET /much HTTP/1.1\r\nHost: localhost\r\n\r\n") as lines:
        began = time.monotonic()
        while time.monotonic() - began < 2 * SILENT_S:
            time.sleep(0.2)
            for line in lines * bool(takes):
                line.recv(takes)
        assert page(server) < 4 * SILENT_S
        assert not server.active_channels or len(server.active_channels) < len(lines)


def test_whoever_takes_much_slowly_but_steadily_gets_all_of_it(server):
    with connect(server) as line:
        line.sendall(b"GET /much HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
        got = 0
        while data := line.recv(2 * callers.MIB):
            got += len(data)
            time.sleep(0.05)
    assert got > MUCH


def test_whoever_sends_slowly_but_steadily_is_waited_for(server):
    with connect(server) as line:
        line.sendall(head(800))
        for _ in range(8):
            time.sleep(0.3)
            line.sendall(b"x" * 100)
        line.shutdown(socket.SHUT_WR)
        assert read(line).endswith("POST 800")


def test_a_connection_that_is_used_again_is_as_good_as_a_new_one(server):
    with connect(server) as line:
        for _ in range(3):
            line.sendall(head(4) + b"form")
            hear(line, "POST 4")
            time.sleep(0.6 * SILENT_S)


@pytest.mark.parametrize(
    ("request_head", "says"),
    [
        (head(150 * callers.MIB), "413 Content Too Large"),
        (head(callers.FORM_BYTES + 1), "413 Content Too Large"),
        (head(callers.FORM_BYTES + 1, "/files/"), "413 Content Too Large"),
        (head(callers.FORM_BYTES + 1, "/files/", INVENTED), "413 Content Too Large"),
        (head(callers.FILES_BYTES + 1, "/files/", b"Cookie\r\n"), "413 Content Too Large"),
        (head(callers.FORM_BYTES + 1, "/mats/6/faults/report/"), "413 Content Too Large"),
        (head(callers.PHOTOS_BYTES + 1, "/faults/1/photos/", b"Cookie\r\n"), "413 Content Too Large"),
        (head(150 * callers.MIB, more=b"Expect: 100-continue\r\n"), "413 Content Too Large"),
        (b"POST / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n", "411 Length Required"),
    ],
    ids=[
        *("150 MB", "more than a form", "a file of nobody", "a file by an invented cookie", "more than files"),
        *("a photo of nobody", "more than photos", "who asks first", "of no length"),
    ],
)
def test_what_no_page_takes_is_refused_before_it_is_read(server, request_head, says):
    answer = answer_to(server, request_head.replace(b"Cookie\r\n", COOKIE))
    assert answer.startswith(f"HTTP/1.1 {says}")
    assert "Nothing was read or stored." in answer or "nothing was read or stored." in answer


@pytest.mark.parametrize("page", ["/files/", "/sweeps/add/", "/mats/M%20-6/faults/report/", "/faults/12/photos/"])
def test_files_of_somebody_who_is_signed_in_may_be_larger_than_a_form(server, page):
    size = callers.FORM_BYTES + 1
    with connect(server) as line:
        line.sendall(head(size, page, COOKIE) + b"x" * size)
        hear(line, f"POST {size}")


def test_more_than_the_disk_should_hold_at_once_is_refused_and_a_form_is_taken(server, monkeypatch):
    monkeypatch.setattr(callers, "ALL_BYTES", 3 * callers.MIB)
    with held(server, 3, head(callers.MIB)) as lines:
        lines[2].sendall(b"x" * callers.MIB)
        hear(lines[2], f"POST {callers.MIB}")
    with held(server, 3, head(callers.MIB)):
        assert answer_to(server, head(callers.MIB)).startswith("HTTP/1.1 503")
        with connect(server) as line:
            line.sendall(head(4) + b"form")
            hear(line, "POST 4")


def test_one_address_in_the_network_has_some_of_the_connections_and_no_more(server, monkeypatch):
    monkeypatch.setattr(callers, "HERE", ())
    monkeypatch.setattr(callers, "CONNECTIONS_OF_ONE", 5)
    with held(server, 5, HALF), connect(server) as sixth:
        assert read(sixth) == ""
