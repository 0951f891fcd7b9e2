"""Whatever a request says of itself, it is no failure of ours, and a refused one is one line of the log."""

import io
import logging
from logging.config import DictConfigurator
from urllib.parse import urlencode

import pytest
from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.core.signals import request_started
from django.db import close_old_connections
from django.test import Client

from fleet.models import Mat
from inspections.management.serving import refusing_unreadable

# refused by the frame around all pages, or taken as an empty form: nothing of it comes to the database
pytestmark = [pytest.mark.django_db, pytest.mark.alike]

FORM, FILES = "application/x-www-form-urlencoded", "multipart/form-data; boundary=b"
PART = b'--b\r\nContent-Disposition: form-data; name="x"\r\n\r\n1'
CHARSETS = ("hex", "punycode", "idna", "unicode_escape", "utf-16", "undefined", "rot13", "latin-1", "a\0b", "none-such")


@pytest.fixture
def log():
    """What the server writes to its log, as the settings format it."""
    made, stream = DictConfigurator(settings.LOGGING), io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(logging.Formatter("%(levelname)s %(message)s"))
    for name in settings.LOGGING["handlers"]["stderr"]["filters"]:
        handler.addFilter(made.configure_filter(settings.LOGGING["filters"][name]))
    logging.getLogger().addHandler(handler)
    yield lambda: stream.getvalue().splitlines()
    logging.getLogger().removeHandler(handler)


def sent(method, place, body=b"", content_type="", **environ):
    """The status that the whole application answers with, no test client between."""
    place, _, query = place.partition("?")
    given = {"REQUEST_METHOD": method, "PATH_INFO": place, "QUERY_STRING": query, "CONTENT_TYPE": content_type}
    given |= {"CONTENT_LENGTH": str(len(body)), "wsgi.input": io.BytesIO(body), "wsgi.url_scheme": "http"}
    given |= {"SERVER_NAME": "localhost", "SERVER_PORT": "80", "HTTP_HOST": "localhost", **environ}
    answered = []
    request_started.disconnect(close_old_connections)  # it would close that of the test
    try:
        b"".join(refusing_unreadable(WSGIHandler())(given, lambda status, headers: answered.append(status)))
    finally:
        request_started.connect(close_old_connections)
    return int(answered[0].split()[0])


@pytest.mark.parametrize("charset", CHARSETS)
@pytest.mark.parametrize(("method", "kind"), [("POST", FORM), ("POST", FILES), ("GET", "text/plain")])
def test_another_character_set_is_refused_in_one_line_and_nothing_leaves_the_application(log, charset, method, kind):
    assert sent(method, "/mats/?find=%ed%a0%80", b"number=1", f"{kind}; charset={charset}") == 400
    assert log() == [f"WARNING Refused unread: {method} '/mats/'"]


@pytest.mark.parametrize("length", ["-5", "abc", "9" * 5_000])
def test_a_length_that_is_none_is_refused(log, length):
    assert sent("POST", "/files/", b"x", FILES, CONTENT_LENGTH=length) == 400
    assert len(log()) == 1


@pytest.mark.parametrize("charset", ["utf-8", "UTF-8", '"utf-8"'])
def test_utf_8_may_be_named(charset):
    assert sent("GET", "/sign-in/", content_type=f"text/plain; charset={charset}") in (200, 302)


@pytest.mark.parametrize("logger", ["django.request", "waitress", "inspections.project.storage_errors"])
def test_no_line_tells_the_secret_of_a_link_for_phones(log, logger):
    for place in ("/phone/s3cret-of_43/", "/calendar/feed/s3cret-of_43.ics"):
        logging.getLogger(logger).error("Internal Server Error: %s", place)
    said = "ERROR Internal Server Error: "
    assert log() == [f"{said}/phone/…/", f"{said}/calendar/feed/…"]


@pytest.mark.parametrize("place", ["/", "/none-such/", "/mats/add/", "/sign-in/"])
def test_more_fields_than_any_form_has_are_refused_in_one_line(log, place):
    many = urlencode({f"field{number}": "" for number in range(20_001)})
    assert sent("GET", f"{place}?{many}") == 400
    assert len(log()) == 1


@pytest.mark.parametrize("host", ["evil.example", "[", "a b", "", "x\ny"])
def test_another_host_is_refused_in_one_line(log, host):
    assert sent("GET", "/", HTTP_HOST=host) == 400
    assert len(log()) == 1


def test_what_was_sent_breaks_no_line_of_the_log(log):
    logging.getLogger("any").error("GET %s", "/mats/\x1b[31m\nERROR all is lost/")
    assert log() == ["ERROR GET /mats/\ufffd[31m\ufffdERROR all is lost/"]


@pytest.mark.parametrize("person", ["keeper", "visitor"])
@pytest.mark.parametrize("place", ["/none-such/", "/mats/add/", "/files/", "/sign-in/", "/policy/"])
@pytest.mark.parametrize("body", [b"", b"xx", PART], ids=["empty", "no parts", "cut off"])
@pytest.mark.parametrize("content_type", [FILES, "multipart/form-data", "multipart/form-data; boundary=\xe9"])
def test_broken_parts_are_no_failure_on_any_page(request, log, person, place, body, content_type):
    client = Client(raise_request_exception=False)
    client.force_login(request.getfixturevalue(person))
    assert client.generic("POST", place, body, content_type).status_code < 500
    assert len(log()) <= 1


@pytest.mark.parametrize("content_type", ["application/json", "text/plain", "", ";;;===", "\xff"])
def test_a_body_that_is_no_form_is_an_empty_one(keeper_client, content_type):
    assert keeper_client.generic("POST", "/mats/add/", b'{"number": "M-1"}', content_type).status_code == 200
    assert not Mat.objects.exists()


@pytest.mark.parametrize("address", ["http://[", "http://a]b", "\xff", "x" * 70_000])
def test_a_part_of_a_page_of_no_address_is_asked_to_sign_in(client, address):
    headers = {"HTTP_HX_REQUEST": "true", "HTTP_HX_CURRENT_URL": address}
    answer = client.post("/events/log/", "x=1", content_type=FORM, **headers)
    assert answer.status_code == 401
