"""The browsers of `fuzz.py`: one that calls the application in this process, one that asks a server over HTTP."""

import http.client
import io
import logging
import time
import traceback
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from urllib.parse import unquote_to_bytes

from django.conf import settings

HOST = "localhost"
TIMEOUT_S = 120


@dataclass
class Answer:
    """`log`: lines that the server wrote meanwhile, a traceback one entry with its lines."""

    status: int
    headers: dict
    body: bytes
    seconds: float = 0.0
    log: list = field(default_factory=list)
    left: str = ""

    @property
    def is_page(self):
        return self.headers.get("Content-Type", "").startswith("text/html")

    @property
    def text(self):
        return self.body.decode(errors="replace")


class Lines(logging.Handler):
    """What the server would write, as its own handler formats and filters it."""

    def __init__(self, like):
        super().__init__()
        self.setFormatter(like.formatter)
        for each in like.filters:
            self.addFilter(each)
        self.lines = []

    def emit(self, record):
        self.lines.append(self.format(record))

    @contextmanager
    def instead(self):
        """Nothing else writes meanwhile."""
        others = logging.getLogger().handlers
        logging.getLogger().handlers = [self]
        try:
            yield
        finally:
            logging.getLogger().handlers = others


@contextmanager
def _one_connection():
    """One thread, one connection: that of a test stays open."""
    from django.core.signals import request_finished, request_started
    from django.db import close_old_connections

    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    try:
        yield
    finally:
        for signal in (request_started, request_finished):
            signal.connect(close_old_connections)


class InProcess:
    """Calls the whole application, the frame before Django included."""

    def __init__(self):
        from django.core.handlers.wsgi import WSGIHandler

        from inspections.management.serving import refusing_unreadable

        self.application = refusing_unreadable(WSGIHandler())
        configured = next(h for h in logging.getLogger().handlers if type(h) is logging.StreamHandler)
        self.log = Lines(configured)

    def ask(self, method, target, body=b"", headers=()):
        place, _, query = target.partition("?")
        environ = {
            "REQUEST_METHOD": method,
            "SCRIPT_NAME": "",
            "PATH_INFO": unquote_to_bytes(place).decode("latin-1"),
            "QUERY_STRING": query,
            "SERVER_NAME": HOST,
            "SERVER_PORT": "80",
            "SERVER_PROTOCOL": "HTTP/1.1",
            "REMOTE_ADDR": "127.0.0.1",
            "CONTENT_LENGTH": str(len(body)) if body or method == "POST" else "",
            "HTTP_HOST": HOST,
            "wsgi.url_scheme": "http",
            "wsgi.input": io.BytesIO(body),
            "wsgi.errors": io.StringIO(),
        }
        for name, value in headers:
            key = name.upper().replace("-", "_")
            environ[key if key in ("CONTENT_TYPE", "CONTENT_LENGTH") else f"HTTP_{key}"] = value
        return self._answer(environ)

    def _answer(self, environ):
        with _one_connection(), self.log.instead():
            return self._answered(environ)

    def _answered(self, environ):
        began, started, self.log.lines = time.monotonic(), [], []
        try:
            answer = self.application(environ, lambda status, headers, error=None: started.append((status, headers)))
            try:
                body = b"".join(answer)
            finally:
                getattr(answer, "close", lambda: None)()
            left = ""
        except Exception:
            started, body, left = [("599 Left the application", [])], b"", traceback.format_exc()
        status, headers = started[-1]
        return Answer(int(status.split()[0]), _joined(headers), body, time.monotonic() - began, self.log.lines, left)


class OverHttp:
    """Asks the server that listens there; its log is a file."""

    def __init__(self, port, log):
        self.port, self.path, self.seen = port, log, log.stat().st_size

    def ask(self, method, target, body=b"", headers=()):
        # a server waits for the bytes that it was told of
        headers = [each for each in headers if each[0] != "Content-Length" or not each[1].isdecimal()]
        began = time.monotonic()
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=TIMEOUT_S)
        try:
            connection.putrequest(method, target, skip_host=any(name == "Host" for name, _ in headers))
            if not any(name == "Content-Length" for name, _ in headers):
                connection.putheader("Content-Length", str(len(body)))
            for name, value in headers:
                connection.putheader(name, value.encode("latin-1"))
            connection.endheaders(body)
            got = connection.getresponse()
            answer = Answer(got.status, _joined(got.getheaders()), got.read())
        except (OSError, http.client.HTTPException) as error:
            # the server may refuse before it has read everything
            answer = Answer(400, {}, repr(error).encode())
        finally:
            connection.close()
        answer.seconds, answer.log = time.monotonic() - began, self._logged()
        return answer

    def _logged(self):
        with self.path.open("rb") as stream:
            stream.seek(self.seen)
            said = stream.read()
        self.seen += len(said)
        lines = said.decode(errors="replace").splitlines()
        entries = []
        for line in lines:
            if entries and (line.startswith((" ", "Traceback")) or "Traceback" in entries[-1]):
                entries[-1] += f"\n{line}"
            else:
                entries.append(line)
        return entries


class Person:
    """A browser of somebody, with cookies of its own. `role`: keeper, bench hand, visitor, or "" for nobody."""

    def __init__(self, name, role, server):
        self.name, self.role, self.server, self.cookies = name, role, server, {}

    def ask(self, method, target, body=b"", headers=()):
        cookies = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        own = [] if any(name == "Cookie" for name, _ in headers) else [("Cookie", cookies)]
        answer = self.server.ask(method, target, body, [*own, *headers])
        self._keep(answer.headers.get("Set-Cookie", ""))
        return answer

    def _keep(self, text):
        for line in text.split("\n"):
            try:
                parsed = SimpleCookie(line)
            except CookieError:
                continue
            for name, morsel in parsed.items():
                if morsel.value and morsel["max-age"] != 0 and morsel["max-age"] != "0":
                    self.cookies[name] = morsel.value
                else:
                    self.cookies.pop(name, None)

    @property
    def token(self):
        """What forms of this browser carry against forgery."""
        return self.cookies.setdefault(settings.CSRF_COOKIE_NAME, "f" * 32)


def _joined(headers):
    """Cookies are headers of one name, a line each."""
    joined = {}
    for name, value in headers:
        joined[name] = f"{joined[name]}\n{value}" if name in joined else value
    return joined
