"""Handing mail to the server that `HALFPOWER_MAIL` names (RFC 5321; STARTTLS: RFC 3207; implicit TLS: RFC 8314)."""

import smtplib
import ssl
from contextlib import contextmanager, suppress
from email.message import EmailMessage
from email.utils import format_datetime

PATIENCE_S = 30


class NotTaken(Exception):
    """The server took no mail, or refused this one: it did not leave. Says why in a sentence."""


def message_of(letter, *, sender, to, at, ident):
    """An EmailMessage. `ident` is the same whenever this mail is made, so that a server may know it again."""
    message = EmailMessage()
    message["Subject"], message["From"], message["To"] = letter.subject, sender, ", ".join(to)
    message["Date"] = format_datetime(at)
    message["Message-ID"] = f"<{ident}@{sender.rpartition('@')[2]}>"
    # RFC 3834: nobody's out-of-office answers it
    message["Auto-Submitted"] = "auto-generated"
    message.set_content(letter.text)
    return message


@contextmanager
def post(server):
    """`send` of a message through an open connection; NotTaken where there is none.

    A connection is opened before any mail is begun, so that a wrong name or password costs no mail.
    """
    try:
        smtp = _connected(server)
    except (OSError, smtplib.SMTPException) as error:
        raise NotTaken(f"{server.shown} takes no mail from here: {_words(error)}") from error
    try:
        yield lambda message: _send(smtp, message)
    finally:
        _leave(smtp)


def _leave(smtp):
    with suppress(smtplib.SMTPException, OSError):
        smtp.quit()
    smtp.close()


def _connected(server):
    context = ssl.create_default_context()
    if server.is_encrypted:
        smtp = smtplib.SMTP_SSL(server.host, server.port, timeout=PATIENCE_S, context=context)
    else:
        smtp = smtplib.SMTP(server.host, server.port, timeout=PATIENCE_S)
    try:
        if not server.is_encrypted:
            _encrypt(smtp, server, context)
        if server.user:
            smtp.login(server.user, server.password)
    except BaseException:
        smtp.close()
        raise
    return smtp


def _encrypt(smtp, server, context):
    """Outside this computer encrypted where the server offers it; a password goes in no other way."""
    smtp.ehlo()
    if server.is_of_this_computer:
        return
    if smtp.has_extn("starttls"):
        smtp.starttls(context=context)
        smtp.ehlo()
    elif server.user:
        raise smtplib.SMTPException("it offers no encryption, and a password is not sent without. Try smtps://")


def _send(smtp, message):
    """Returns the addresses that were refused; the others have the mail. NotTaken where all were, or the mail was."""
    try:
        return sorted(smtp.send_message(message))
    except smtplib.SMTPRecipientsRefused as error:
        raise NotTaken(f"no address was taken: {'; '.join(map(_refusal, error.recipients.items()))}") from error
    except (smtplib.SMTPResponseException, smtplib.SMTPNotSupportedError) as error:
        raise NotTaken(_words(error)) from error


def _refusal(refused):
    address, (code, said) = refused
    return f"{address} ({code} {_text(said)})"


def _words(error):
    if isinstance(error, smtplib.SMTPResponseException):
        return f"{error.smtp_code} {_text(error.smtp_error)}"
    return getattr(error, "strerror", None) or str(error) or type(error).__name__


def _text(said):
    return said.decode("utf-8", "replace") if isinstance(said, bytes) else str(said)
