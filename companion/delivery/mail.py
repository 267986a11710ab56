"""Hand one plain-text mail to an SMTP server.

Owns the SMTP conversation: encryption, log-in, time limits, and which refusals are final. It must not know what
the mail is about.
"""

from __future__ import annotations

import re
import smtplib
import socket
import ssl
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from email.message import EmailMessage
from email.policy import SMTP as SMTP_POLICY
from email.utils import formatdate
from enum import StrEnum
from typing import Any

from companion.delivery.base import DeliveryError, Message

_UNKNOWN_MAILBOX = re.compile(rb"5\.1\.(?:1|2|3|6|10)\b")
"""Enhanced status codes (RFC 3463, RFC 7505) that speak of the address it was sent to. 5.1.7 and 5.1.8 speak of
the sender, 5.7.x of policy: those are settings, and settings are mended."""
_ADDRESS = re.compile(r"[^\s@<>\"(),:;\\\x00-\x1f\x7f]+@[^\s@<>\"(),:;\\\x00-\x1f\x7f]+")


class Encryption(StrEnum):
    NONE = "none"
    STARTTLS = "starttls"
    TLS = "tls"


@dataclass(frozen=True)
class MailServer:
    """Where mail is handed in."""

    host: str
    port: int
    sender: str
    encryption: Encryption = Encryption.NONE
    login: str | None = None
    password: str | None = None
    patience_s: float = 8.0
    """How long one answer may take [s]."""
    whole_s: float = 60.0
    """How long a whole conversation may take [s], however slowly it drips: it ends within a claim's lease."""


def is_address(text: str) -> bool:
    """Say whether ``text`` is one plain mail address: no name, no list, no second line."""
    return len(text) <= 254 and _ADDRESS.fullmatch(text) is not None


def send_mail(server: MailServer, message: Message) -> str:
    """Hand ``message`` to the server and return its message id. Raises DeliveryError."""
    letter = compose(server.sender, message)
    try:
        with _talk(server) as talk:
            talk.send_message(letter, from_addr=server.sender, to_addrs=[message.address])
    except smtplib.SMTPRecipientsRefused as error:
        raise DeliveryError(_told(error), permanent=_all_unknown(error.recipients)) from error
    except smtplib.SMTPNotSupportedError as error:
        # A log-in or an encryption that the server lacks is ours to mend; an address it cannot spell is not.
        raise DeliveryError(_told(error), permanent=not message.address.isascii()) from error
    except (smtplib.SMTPException, OSError) as error:
        raise DeliveryError(_told(error), permanent=False) from error
    return str(letter["Message-ID"])


def reach(server: MailServer) -> None:
    """Greet the server, log in and leave, sending nothing. Raises DeliveryError."""
    try:
        with _talk(server):
            pass
    except (smtplib.SMTPException, OSError) as error:
        raise DeliveryError(_told(error), permanent=False) from error


def compose(sender: str, message: Message) -> EmailMessage:
    """Return the letter. Raises DeliveryError for an address or a header that would not stay one line."""
    if not is_address(message.address):
        raise DeliveryError("not one mail address", permanent=True)
    letter = EmailMessage(policy=SMTP_POLICY)
    try:
        letter["From"] = sender
        letter["To"] = message.address
        letter["Subject"] = message.subject
        letter["Date"] = formatdate()
        letter["Message-ID"] = f"<{message.reference}@{sender.rpartition('@')[2] or 'localhost'}>"
    except ValueError as error:
        raise DeliveryError(f"a header is not one line: {error}", permanent=True) from error
    # Asks mail programs not to answer it with "out of office".
    letter["Auto-Submitted"] = "auto-generated"
    letter.set_content(message.text, cte="quoted-printable")
    return letter


class _Watch:
    """Cuts a conversation once its time is up. A server that sends a byte now and then never lets a socket's own
    time limit run out."""

    def __init__(self, whole_s: float) -> None:
        self._lock = threading.Lock()
        self._line: socket.socket | None = None
        self._late = False
        self._timer = threading.Timer(whole_s, self._cut)
        self._timer.daemon = True
        self._timer.start()

    def hold(self, line: socket.socket) -> None:
        with self._lock:
            self._line = line.dup()  # the line itself may be wrapped for encryption, and is then another object
            late = self._late
        if late:
            self._cut()

    def _cut(self) -> None:
        with self._lock:
            self._late = True
            if self._line is not None:
                with suppress(OSError):  # it may be over already
                    self._line.shutdown(socket.SHUT_RDWR)

    def end(self) -> None:
        self._timer.cancel()
        with self._lock:
            if self._line is not None:
                self._line.close()
                self._line = None


class _Watched(smtplib.SMTP):
    """Shows its line to a watch as soon as there is one, before the first word."""

    def __init__(self, server: MailServer, watch: _Watch, **options: Any) -> None:
        self._watch = watch
        super().__init__(server.host, server.port, timeout=server.patience_s, **options)

    def _get_socket(self, host: str, port: int, timeout: float) -> socket.socket:
        line: socket.socket = super()._get_socket(host, port, timeout)  # type: ignore[misc]
        self._watch.hold(line)
        return line


class _WatchedTls(smtplib.SMTP_SSL, _Watched):
    """The same, encrypted from the first byte on."""

    def __init__(self, server: MailServer, watch: _Watch) -> None:
        self._watch = watch
        smtplib.SMTP_SSL.__init__(
            self, server.host, server.port, timeout=server.patience_s, context=ssl.create_default_context()
        )


@contextmanager
def _talk(server: MailServer) -> Iterator[smtplib.SMTP]:
    """Greet the server, log in, and leave at the end."""
    watch = _Watch(server.whole_s)
    try:
        talk = _connect(server, watch)
        try:
            yield talk
        finally:
            _leave(talk)
    finally:
        watch.end()


def _connect(server: MailServer, watch: _Watch) -> smtplib.SMTP:
    talk = (_WatchedTls if server.encryption is Encryption.TLS else _Watched)(server, watch)
    try:
        if server.encryption is Encryption.STARTTLS:
            talk.starttls(context=ssl.create_default_context())
        if server.login and server.password:
            talk.login(server.login, server.password)
    except BaseException:
        talk.close()
        raise
    return talk


def _leave(talk: smtplib.SMTP) -> None:
    """Say goodbye. What was accepted stays accepted if the goodbye is not answered."""
    try:
        talk.quit()
    except (smtplib.SMTPException, OSError):
        talk.close()


def _all_unknown(refusals: Mapping[str, tuple[int, bytes]]) -> bool:
    """Only an unknown mailbox is final. Any other refusal may be a server set up wrongly for half an hour, and an
    alert must not lose its steps to that."""
    return all(500 <= code < 600 and _UNKNOWN_MAILBOX.match(told) for code, told in refusals.values())


def _told(error: Exception) -> str:
    """Say what the server said, in one short line that holds no address."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return "recipient refused: " + "; ".join(str(code) for code, _ in error.recipients.values())
    if isinstance(error, smtplib.SMTPResponseException):
        return f"{type(error).__name__}: {error.smtp_code}"
    return " ".join(f"{type(error).__name__}: {error}".split())[:200]
