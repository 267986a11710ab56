"""Servers on loopback that go wrong in the middle of a conversation, at any place of it."""

from __future__ import annotations

import datetime
import socket
import ssl
import threading
from contextlib import suppress
from enum import StrEnum
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID


class Then(StrEnum):
    """What a line does where it goes wrong."""

    DROPS = "drops"
    RESETS = "resets"
    HANGS = "hangs"
    DRIPS = "drips"
    GARBAGE = "talks garbage"
    SAYS_4XX = "says 4xx"
    SAYS_5XX = "says 5xx"


SMTP_TALK = (
    b"220 here\r\n",
    b"250 hello\r\n",
    b"250 sender\r\n",
    b"250 recipient\r\n",
    b"354 go on\r\n",
    b"250 kept\r\n",
)
"""What a mail server says in turn (RFC 5321, section 3), beginning with its greeting."""
STAGES = ("connecting", "EHLO", "MAIL", "RCPT", "DATA", "the letter")


class BadLine:
    """A server that speaks ``talk`` line by line, and from the line ``at`` on does ``then``. It keeps nothing."""

    def __init__(
        self, port: int, then: Then, talk: tuple[bytes, ...] = (), at: int = 0, tls: Path | None = None
    ) -> None:
        self._then, self._talk, self._at, self._tls = then, talk, at, tls
        self._over = threading.Event()
        self._server = socket.create_server(("127.0.0.1", port))
        threading.Thread(target=self._serve, daemon=True).start()

    def close(self) -> None:
        self._over.set()
        with suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()

    def _serve(self) -> None:
        while not self._over.is_set():
            try:
                line, _ = self._server.accept()
            except OSError:
                return
            threading.Thread(target=self._talk_to, args=(line,), daemon=True).start()

    def _talk_to(self, line: socket.socket) -> None:
        with suppress(OSError), line:
            if self._tls is not None:
                context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
                context.load_cert_chain(self._tls)
                line = context.wrap_socket(line, server_side=True)
            heard = line.makefile("rb")
            for number in range(self._at):
                line.sendall(self._talk[number])
                if self._talk[number].startswith(b"354"):
                    while heard.readline() not in (b".\r\n", b""):
                        pass
                else:
                    heard.readline()
            self._go_wrong(line, heard)

    def _go_wrong(self, line: socket.socket, heard: object) -> None:
        match self._then:
            case Then.RESETS:
                line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\x00\x00\x00\x00\x00\x00\x00")
            case Then.HANGS:
                self._over.wait()
            case Then.DRIPS:
                line.sendall(b"2")
                while not self._over.wait(0.02):
                    line.sendall(b"2")
            case Then.GARBAGE:
                line.sendall(bytes(range(200)) * 20)
            case Then.SAYS_4XX | Then.SAYS_5XX:
                word = b"451 4.3.0 later\r\n" if self._then is Then.SAYS_4XX else b"554 5.3.0 no\r\n"
                line.sendall(word)
                while heard.readline():  # type: ignore[attr-defined]
                    line.sendall(word)


def own_certificate(folder: Path) -> Path:
    """Write a key and a certificate that nobody has vouched for, for a name that is not ours."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "somebody.invalid")])
    now = datetime.datetime.now(datetime.UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=1))
        .sign(key, hashes.SHA256())
    )
    plain = serialization.NoEncryption()
    pem = key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, plain)
    path = folder / "somebody.pem"
    path.write_bytes(pem + certificate.public_bytes(serialization.Encoding.PEM))
    return path
