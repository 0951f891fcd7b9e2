"""The web server of `demo` and `serve`: one process, some threads."""

import errno
import socket

import waitress
from django.core.exceptions import ValidationError
from django.core.wsgi import get_wsgi_application

from .starting import collect_for_this_start

HERE_ONLY = "127.0.0.1"
# a page takes some 20 ms of which half is the database; phones keep connections open
THREADS = 8


def open_server(port, host=HERE_ONLY):
    """A server that listens but does not answer yet, its static files collected.

    ValidationError says so where the port cannot be had or nothing can be written.
    """
    if not 0 < port < 65_536:
        raise ValidationError(f"{port} is not a port: choose one from 1024 to 65535, such as --port 8000")
    application = make_application()
    try:
        listening = socket.create_server((host, port))
    except OSError as error:
        raise ValidationError(_why_not(port, error)) from error
    # What a proxy says of the sender stays readable: a page for this computer only must know that somebody else asks.
    more = {"threads": THREADS, "ident": None, "clear_untrusted_proxy_headers": False}
    return waitress.create_server(application, sockets=[listening], **more)


def make_application():
    """The app for any server: it learns which static files there are while it is made, so they are collected first."""
    collect_for_this_start()
    return get_wsgi_application()


def _why_not(port, error):
    if error.errno == errno.EADDRINUSE:
        return f"Port {port} is in use, perhaps by another Halfpower. Stop that, or choose another: --port {port + 1}"
    return f"Port {port} cannot be used ({error.strerror}). Choose another above 1023, such as --port 8000"


def serve(server):
    """Answer until Ctrl-C."""
    try:
        server.run()
    finally:
        server.close()
