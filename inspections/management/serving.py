"""The web server of `demo` and `serve`: one process, some threads."""

import errno
import gc
import logging
import socket

import waitress
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.wsgi import get_wsgi_application
from django.utils.http import parse_header_parameters

from inspections.backup.database_startup import hold_open

from .callers import LIMITS, keep_from_waiting
from .starting import collect_for_this_start

HERE_ONLY = "127.0.0.1"
# a page takes some 20 ms of which half is the database; phones keep connections open
THREADS = 8
# a page makes some thousand objects that live as long as it; seldom enough, and within some megabytes
GARBAGE_AFTER = (20_000, 20, 20)
NOT_READ = "Halfpower reads UTF-8 only. What was sent names another character set or no length, and was not read.\n"
LONGEST_LENGTH = 15
# The proxy in front of an https address runs on this computer: its last word on who asks, and how, is taken for true.
PROXY_HERE = {
    "trusted_proxy": HERE_ONLY,
    "trusted_proxy_count": 1,
    "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
}
BEHIND_PROXY_ONLY = (
    "HALFPOWER_ADDRESS says that people reach the pool at {address}, through a proxy on this computer. "
    "With --lan they could also come past the proxy, where nothing is encrypted. Leave --lan out."
)

log = logging.getLogger(__name__)


def open_server(port, host=HERE_ONLY):
    """A server that listens but does not answer yet, its static files collected.

    ValidationError says so where the port cannot be had or nothing can be written.
    """
    if not 0 < port < 65_536:
        raise ValidationError(f"{port} is not a port: choose one from 1024 to 65535, such as --port 8000")
    if settings.IS_ENCRYPTED and host != HERE_ONLY:
        raise ValidationError(BEHIND_PROXY_ONLY.format(address=settings.POOL_ADDRESS))
    application = make_application()
    try:
        listening = socket.create_server((host, port))
    except OSError as error:
        raise ValidationError(_why_not(port, error)) from error
    # What a proxy says of the sender stays readable: a page for this computer only must know that somebody else asks.
    more = {"threads": THREADS, "ident": None, "clear_untrusted_proxy_headers": False} | LIMITS
    if settings.IS_ENCRYPTED:
        more |= PROXY_HERE
    server = waitress.create_server(application, sockets=[listening], **more)
    keep_from_waiting(server)
    return server


def make_application():
    """The app for any server: it learns which static files there are while it is made, so they are collected first."""
    collect_for_this_start()
    application = refusing_unreadable(get_wsgi_application())
    keep_what_is_loaded()
    return application


def keep_what_is_loaded():
    """What is imported by now stays: looking it through for garbage again and again took a tenth of each page."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(*GARBAGE_AFTER)


def refusing_unreadable(application):
    """The app behind what Django reads before any page of ours could refuse it: the character set and the length."""

    def answer(environ, start_response):
        if _is_readable(environ):
            return application(environ, start_response)
        log.warning("Refused unread: %s %r", environ["REQUEST_METHOD"], environ.get("PATH_INFO", "")[:200])
        headers = {"Content-Type": "text/plain; charset=utf-8"} | settings.ANSWER_HEADERS
        start_response("400 Bad Request", list(headers.items()))
        return [NOT_READ.encode()]

    return answer


def _is_readable(environ):
    length = environ.get("CONTENT_LENGTH") or "0"
    try:
        charset = parse_header_parameters(environ.get("CONTENT_TYPE", ""))[1].get("charset", "utf-8")
    except ValueError:
        return False
    return charset.lower() == "utf-8" and length.isdecimal() and len(length) <= LONGEST_LENGTH


def _why_not(port, error):
    if error.errno == errno.EADDRINUSE:
        return f"Port {port} is in use, perhaps by another Halfpower. Stop that, or choose another: --port {port + 1}"
    return f"Port {port} cannot be used ({error.strerror}). Choose another above 1023, such as --port 8000"


def where_to_open(here):
    """In a sentence, for the terminal."""
    if settings.IS_ENCRYPTED:
        return f"Open {settings.POOL_ADDRESS}/ in a browser. The proxy on this computer passes on to {here}."
    return f"Open {here} in a browser on this computer."


def serve(server):
    """Answer until Ctrl-C."""
    held = hold_open()
    try:
        server.run()
    finally:
        server.close()
        held.close()
