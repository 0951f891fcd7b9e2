"""Whoever sends slowly, nothing at all, or more than any page takes: cut off, so that the others are not kept waiting.

Waitress closes what was silent for `channel_timeout`. Added here: one byte now and then is as good as silence, one
caller has not all connections to itself, and what is too large is refused before it lies on the disk.
"""

import select
import time
from functools import partial

from django.conf import settings
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.utilities import Error

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
# the page that takes files: it refuses in words what is somewhat too large
FILES_PATH, FILES_BYTES = "/files/", 2 * settings.UPLOAD_LIMIT_BYTES
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
TOO_MUCH = Refused(
    503, "Service Unavailable", "Others are sending large files just now. Wait a minute, then send it again."
)


class Request(HTTPRequestParser):
    """Looked at as soon as its head is there, before anything of its body is kept."""

    def __init__(self, adj, server):
        super().__init__(adj)
        self._server = server

    def parse_header(self, header_plus):
        super().parse_header(header_plus)
        if error := self._why_not():
            self.error = error
            # waitress then reads no body, and asks for none
            self.chunked, self.content_length, self.body_rcv, self.expect_continue = False, 0, None, False

    def _why_not(self):
        if self.chunked:
            return NO_LENGTH
        if self.content_length > (FILES_BYTES if self._may_be_files() else FORM_BYTES):
            return TOO_LARGE
        if self.content_length > SMALL_BYTES and self.content_length + _bytes_coming(self._server) > ALL_BYTES:
            return TOO_MUCH
        return None

    def _may_be_files(self):
        """Whoever is not signed in brings no file; whether the cookie is worth anything the page finds out."""
        return self.path == FILES_PATH and settings.SESSION_COOKIE_NAME in self.headers.get("COOKIE", "")


class Channel(HTTPChannel):
    """A connection that is the older the less it sent."""

    _partial, _began, _bytes = None, 0.0, 0

    def __init__(self, server, sock, addr, adj, map=None):
        self.parser_class = partial(Request, server=server)
        super().__init__(server, sock, addr, adj, map)
        # through a proxy on this computer all come from one address
        self.will_close = addr[0] not in HERE and _connections_of(server, addr[0]) > CONNECTIONS_OF_ONE

    def received(self, data):
        more = super().received(data)
        if self.request is not self._partial:
            self._partial, self._began, self._bytes = self.request, time.time(), 0
        elif self.request is not None:
            self._bytes += len(data)
            self.last_activity = min(time.time(), self._began + self._bytes / LEAST_BYTES_S)
        return more


def _connections_of(server, address):
    return sum(channel.addr[0] == address for channel in server.active_channels.values())


def _bytes_coming(server):
    """Of large bodies that are on their way or wait for their turn."""
    there = (request for channel in server.active_channels.values() for request in [channel.request, *channel.requests])
    return sum(size for request in there if request and (size := request.content_length) > SMALL_BYTES)
