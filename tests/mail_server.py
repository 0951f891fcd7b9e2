"""A mail server on this machine (aiosmtpd) that keeps what it takes, for tests of what is sent."""

import email
import ssl
from contextlib import contextmanager
from dataclasses import dataclass
from email import policy

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, LoginPassword
from served import free_port

from inspections.project.mail import MailServer

USER, PASSWORD = "halfpower", "p@ss:word"


class Kept:
    """`taken`: (addresses, message) of each mail. Addresses in `refused` and all mail while `busy` are refused."""

    def __init__(self):
        self.taken, self.refused, self.busy = [], set(), False

    async def handle_RCPT(self, server, session, envelope, address, options):
        if address in self.refused:
            return "550 nobody of that name"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        if self.busy:
            return "451 come back later"
        message = email.message_from_bytes(envelope.content, policy=policy.default)
        self.taken.append((list(envelope.rcpt_tos), message))
        return "250 taken"

    @property
    def texts(self):
        return {message["To"]: text_of(message) for _, message in self.taken}


def text_of(message):
    return message.get_content().replace("\r\n", "\n")


class Server(Controller):
    """`encrypts`: a TLS context, used from the first byte or, `when_asked`, from STARTTLS on."""

    def __init__(self, kept, port, encrypts=None, when_asked=False, **options):
        self.options = options | ({"tls_context": encrypts} if when_asked else {})
        super().__init__(kept, hostname="127.0.0.1", port=port, ssl_context=None if when_asked else encrypts)

    def factory(self):
        return SMTP(self.handler, **self.options)


def knows(server, session, envelope, mechanism, given):
    right = isinstance(given, LoginPassword) and (given.login, given.password) == (USER.encode(), PASSWORD.encode())
    return AuthResult(success=right, handled=False)


@dataclass(frozen=True)
class Elsewhere(MailServer):
    """Reached as one of another computer is."""

    is_of_this_computer = False


@contextmanager
def mail_server(*, certificate=None, asks_password=False):
    """(Kept, the MailServer by which it is reached). One that asks for a password does so after STARTTLS."""
    kept, port, encrypts = Kept(), free_port(), None
    if certificate:
        encrypts = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        encrypts.load_cert_chain(*certificate)
    options = {"authenticator": knows, "auth_required": True, "when_asked": True} if asks_password else {}
    server = Server(kept, port, encrypts, **options)
    server.start()
    try:
        if asks_password:
            yield kept, Elsewhere(False, "localhost", port, USER, PASSWORD, "pool@example.org")
        else:
            yield kept, MailServer(bool(certificate), "localhost", port, "", "", "pool@example.org")
    finally:
        server.stop()
