"""Whoever sends slowly, nothing at all, or more than any page takes: cut off, so that the others are not kept waiting.

Waitress closes what was silent for `channel_timeout`. Added here: one byte now and then is as good as silence, also of
one who reads; one caller has not all connections to itself, and asks for one thing at a time; what is too large is
refused before it lies on the disk.
"""

import re
import select
import time
from functools import partial

from django.conf import settings
from django.http import parse_cookie
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.utilities import Error

from fleet.forms.photos import MOST_AT_ONCE
from fleet.parsing.photos import LARGEST_BYTES
from fleet.services.session_keys import is_made_here

MIB = 2**20
# long enough for a phone on the edge of its network to go on sending
SILENT_S = 30
# on the weakest line there is; slower is nobody who waits for an answer
LEAST_BYTES_S = 250
CONNECTIONS = 400
# of one network address, a quarter: a workshop behind one address has no more than some dozens
CONNECTIONS_OF_ONE = 100
HERE = ("127.0.0.1", "::1")

# forms without files: as many bytes as Django reads of one, and room for its own refusal in words
FORM_BYTES = settings.DATA_UPLOAD_MAX_MEMORY_SIZE + MIB
# the pages that take files and photos: they refuse in words what is somewhat too large
FILES_BYTES, PHOTOS_BYTES = 2 * settings.UPLOAD_LIMIT_BYTES, 2 * MOST_AT_ONCE * LARGEST_BYTES
MOST_BYTES = {
    re.compile("/files/"): FILES_BYTES,
    re.compile("/sweeps/add/"): FILES_BYTES,
    re.compile("/copies/send/"): FILES_BYTES,
    re.compile("/mats/[^/]+/faults/report/"): PHOTOS_BYTES,
    re.compile("/faults/[0-9]+/photos/"): PHOTOS_BYTES,
}
# of all that is on its way at the same moment, beside what waitress keeps in memory
ALL_BYTES, SMALL_BYTES = 4 * settings.UPLOAD_LIMIT_BYTES, MIB // 2

LIMITS = {
    "channel_timeout": SILENT_S,
    "cleanup_interval": 5,
    "connection_limit": CONNECTIONS,
    "max_request_header_size": 64 * 1024,
    "max_request_body_size": FILES_BYTES + 1,
    "inbuf_overflow": SMALL_BYTES,
    # of many connections one call tells which have something; Windows has only the other
    "asyncore_use_poll": hasattr(select, "poll"),
}


class Refused(Error):
    """Answered before the body is read, in one sentence."""

    def __init__(self, code, reason, sentence):
        self.code, self.reason = code, reason
        super().__init__(sentence)

    def to_response(self, ident=None):
        headers = {"Content-Type": "text/plain; charset=utf-8"} | settings.ANSWER_HEADERS
        return f"{self.code} {self.reason}", list(headers.items()), f"{self.body}\n".encode()


NO_LENGTH = Refused(411, "Length Required", "Say how long it is before you send it. Nothing was read or stored.")
TOO_LARGE = Refused(
    413, "Content Too Large", "What you sent is larger than this page takes, so nothing was read or stored."
)
ONE_AT_A_TIME = Refused(400, "Bad Request", "Wait for the answer before you ask for more on the same connection.")
TOO_MUCH = Refused(
    503, "Service Unavailable", "Others are sending large files just now. Wait a minute, then send it again."
)


class Request(HTTPRequestParser):
    """Looked at as soon as its head is there, before anything of its body is kept."""

    def __init__(self, adj, channel):
        super().__init__(adj)
        self._channel = channel

    def parse_header(self, header_plus):
        super().parse_header(header_plus)
        if error := self._why_not():
            self.error = error
            # waitress then reads no body, and asks for none
            self.chunked, self.content_length, self.body_rcv, self.expect_continue = False, 0, None, False

    def _why_not(self):
        # nothing is read while an answer is on its way, so both came at once: a hundred answers would wait in memory
        if self._channel.requests:
            return ONE_AT_A_TIME
        if self.chunked:
            return NO_LENGTH
        if self.content_length > self._most_bytes():
            return TOO_LARGE
        if self.content_length > SMALL_BYTES and _bytes_coming(self._channel.server) > ALL_BYTES:
            return TOO_MUCH
        return None

    def _most_bytes(self):
        """Who never signed in brings no file; whether the session is still alive the page finds out."""
        key = parse_cookie(self.headers.get("COOKIE", "")).get(settings.SESSION_COOKIE_NAME, "")
        if not is_made_here(key):
            return FORM_BYTES
        return next((most for page, most in MOST_BYTES.items() if page.fullmatch(self.path)), FORM_BYTES)


class Pace:
    """Bytes that should move in one direction. What went fast before is no credit for long."""

    def __init__(self):
        self._began, self._bytes = time.time(), 0

    def moved(self, number):
        """Since when it is as good as silent."""
        if self._bytes >= LEAST_BYTES_S * SILENT_S:
            self._began, self._bytes = time.time(), 0
        self._bytes += number
        return min(time.time(), self._began + self._bytes / LEAST_BYTES_S)


class Channel(HTTPChannel):
    """A connection that is the older the less it sent, or took of its answer."""

    _partial = _coming = _going = None
    _taken = 0

    def __init__(self, server, sock, addr, adj, map=None):
        self.parser_class = partial(Request, channel=self)
        super().__init__(server, sock, addr, adj, map)
        # through a proxy on this computer all come from one address
        self.will_close = addr[0] not in HERE and _connections_of(server, addr[0]) > CONNECTIONS_OF_ONE

    def received(self, data):
        more = super().received(data)
        if self.request is not self._partial:
            self._partial, self._coming = self.request, Pace()
        elif self.request is not None:
            self.last_activity = self._coming.moved(len(data))
        return more

    def send(self, data, do_close=True):
        sent = super().send(data, do_close)
        self._taken += sent
        return sent

    def _flush_some(self, do_close=True):
        self._taken = 0
        moved = super()._flush_some(do_close)
        if not self.total_outbufs_len:
            self._going = None
        elif self._going is None:
            self._going = Pace()
        elif moved:
            self.last_activity = self._going.moved(self._taken)
        return moved

    def close_if_silent(self, since):
        """Where an answer waits it is closed at once: a line that takes nothing never comes to its end by itself."""
        if self.last_activity >= since:
            return
        if self.total_outbufs_len and (not self.requests or self.total_outbufs_len >= self.adj.send_bytes):
            self.handle_close()
        elif not self.requests:
            self.will_close = True


def keep_from_waiting(server):
    """Let a server of waitress, made with `LIMITS`, treat its callers so."""

    def close_the_silent(now):
        for channel in list(server.active_channels.values()):
            channel.close_if_silent(now - server.adj.channel_timeout)

    server.channel_class, server.maintenance = Channel, close_the_silent


def _connections_of(server, address):
    return sum(channel.addr[0] == address for channel in server.active_channels.values())


def _bytes_coming(server):
    """Of large bodies that are on their way, the newest too, or wait for their turn."""
    there = (request for channel in server.active_channels.values() for request in [channel.request, *channel.requests])
    return sum(size for request in there if request and (size := request.content_length) > SMALL_BYTES)
