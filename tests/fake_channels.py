"""Working stand-ins on loopback for a push service, with its browsers, and for a practice's gateway.

Both check what they are sent with other people's code (http_ece, py_vapid) or with the standard library, never
with ours, and both go wrong when told to.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import os
import socket
import threading
import time
from dataclasses import dataclass, field
from enum import StrEnum
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from types import TracebackType
from typing import Any, Self

import http_ece
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from fakes import IMPATIENCE_S, PATIENCE_S
from py_vapid import Vapid02

from companion.delivery.outgoing import Outgoing


class Answer(StrEnum):
    """How a listener answers. What it does not accept it does not keep, but for the two that say so."""

    ACCEPT = "accept"
    TROUBLE = "503"
    BUSY = "429"
    FORBIDDEN = "403"
    UNKNOWN = "404"
    GONE = "410"
    UNREACHABLE = "422"  # a gateway's word for a phone that it can never reach
    REDIRECT = "302"
    HANG = "hang"  # no answer while the caller waits
    HUGE = "huge"  # keeps it; an answer without end
    DRIP = "drip"  # an answer that begins, and never ends: a byte now and then
    ACCEPT_UNSAID = "accept_unsaid"  # keeps it, then cuts the line unsaid: a second try makes a twin


LOOPBACK = Outgoing(loopback=True, patience_s=PATIENCE_S)


def limits(answer: Answer) -> Outgoing:
    """Let an answer take its time, and do not wait for one that has no end."""
    endless = answer in (Answer.HANG, Answer.DRIP)
    return Outgoing(loopback=True, patience_s=IMPATIENCE_S) if endless else LOOPBACK


@dataclass
class Listener:
    """An HTTP server on loopback. ``answer`` is for everybody, ``answers`` for single paths. ``close()`` refuses
    connections, ``open()`` takes them again on the same port."""

    answer: Answer = Answer.ACCEPT
    answers: dict[str, Answer] = field(default_factory=dict)
    calls: list[str] = field(default_factory=list)
    """Every path that was posted to, whatever became of it."""
    redirect_to: str = "http://127.0.0.1:9/"
    host: str = "127.0.0.1"
    port: int = 0
    _server: ThreadingHTTPServer | None = None
    _release: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        with socket.socket() as probe:
            probe.bind((self.host, 0))
            self.port = probe.getsockname()[1]

    @property
    def origin(self) -> str:
        return f"http://{self.host}:{self.port}"

    def open(self) -> Self:
        listener = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                listener._handle(self)

            def log_message(self, *_: Any) -> None:
                pass

        class Server(ThreadingHTTPServer):
            daemon_threads = True

            def handle_error(self, *_: Any) -> None:
                """A caller that hung up is no news."""

        self._release = threading.Event()
        self._server = Server((self.host, self.port), Handler)
        threading.Thread(target=self._server.serve_forever, args=(0.01,), daemon=True).start()
        return self

    def close(self) -> None:
        self._release.set()
        if self._server is not None:
            self._server.shutdown()
            self._server.server_close()
        self._server = None

    def __enter__(self) -> Self:
        return self.open()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def take(self, path: str, headers: Any, body: bytes) -> int:
        """Check a request and keep it; return the status of the answer."""
        raise NotImplementedError

    def _handle(self, talk: BaseHTTPRequestHandler) -> None:
        body = talk.rfile.read(int(talk.headers.get("Content-Length", 0)))
        self.calls.append(talk.path)
        answer = self.answers.get(talk.path, self.answer)
        talk.close_connection = True
        if answer is Answer.HANG:
            self._release.wait()
        elif answer is Answer.DRIP:
            talk.wfile.write(b"HTTP/1.1 2")
            while not self._release.wait(0.02):
                talk.wfile.write(b"0")
        elif answer is Answer.REDIRECT:
            talk.send_response(302)
            talk.send_header("Location", self.redirect_to)
            talk.end_headers()
        elif answer.value.isdigit():
            talk.send_response(int(answer))
            talk.end_headers()
        else:
            status = self.take(talk.path, talk.headers, body)
            if answer is Answer.ACCEPT_UNSAID:
                talk.connection.shutdown(socket.SHUT_RDWR)
                return
            talk.send_response(status)
            talk.flush_headers()
            while answer is Answer.HUGE and not self._release.is_set():
                talk.wfile.write(b"X-Huge: " + b"x" * 4000 + b"\r\n")
            talk.end_headers()


@dataclass(frozen=True)
class FakeBrowser:
    """What a browser keeps to itself of a subscription, and what it tells."""

    endpoint: str
    key: ec.EllipticCurvePrivateKey
    secret: bytes
    server_key: str | None
    """The key that alone may write to it, if it was told one."""

    @property
    def p256dh(self) -> str:
        point = self.key.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
        return _text(point)

    @property
    def auth(self) -> str:
        return _text(self.secret)

    @property
    def plain(self) -> dict[str, Any]:
        """As ``PushSubscription.toJSON()`` has it."""
        return {"endpoint": self.endpoint, "keys": {"p256dh": self.p256dh, "auth": self.auth}}


@dataclass(frozen=True)
class Pushed:
    """One push that the service took, as the browser reads it."""

    path: str
    told: dict[str, Any]
    raw: str
    ttl: int
    urgency: str
    topic: str
    contact: str


@dataclass
class PushService(Listener):
    """A push service that gives out subscriptions, and decrypts for the browsers what it takes."""

    browsers: dict[str, FakeBrowser] = field(default_factory=dict)
    pushes: list[Pushed] = field(default_factory=list)

    def subscribe(self, server_key: str | None = None) -> FakeBrowser:
        """Give a browser a place of its own."""
        path = f"/push/{len(self.browsers) + 1}"
        key = ec.generate_private_key(ec.SECP256R1())
        self.browsers[path] = FakeBrowser(f"{self.origin}{path}", key, os.urandom(16), server_key)
        return self.browsers[path]

    def pushes_to(self, browser: FakeBrowser) -> list[Pushed]:
        return [one for one in self.pushes if self.origin + one.path == browser.endpoint]

    def take(self, path: str, headers: Any, body: bytes) -> int:
        browser = self.browsers.get(path)
        if browser is None:
            return 404
        claims = vapid_claims(headers.get("Authorization", ""), browser.server_key)
        if claims is None or claims["aud"] != self.origin or not 0 < claims["exp"] - time.time() <= 24 * 3600:
            return 403
        if headers.get("Content-Encoding") != "aes128gcm" or not headers.get("TTL", "").isdigit():
            return 400
        try:
            raw = http_ece.decrypt(body, private_key=browser.key, auth_secret=browser.secret).decode()
        except http_ece.ECEException:
            return 400
        ttl, urgency, topic = int(headers["TTL"]), headers.get("Urgency", ""), headers.get("Topic", "")
        self.pushes.append(Pushed(path, json.loads(raw), raw, ttl, urgency, topic, claims["sub"]))
        return 201


def vapid_claims(header: str, only: str | None = None) -> dict[str, Any] | None:
    """Return what a VAPID header claims (RFC 8292); None if its signature is not its key's, or not ``only``'s."""
    scheme, _, rest = header.partition(" ")
    parts = dict(one.strip().split("=", 1) for one in rest.split(",") if "=" in one)
    if scheme.lower() != "vapid" or parts.keys() != {"t", "k"} or only not in (None, parts["k"]):
        return None
    signed, _, signature = parts["t"].rpartition(".")
    if not Vapid02.from_raw_public(parts["k"].encode()).verify_token(signed.encode(), signature):
        return None
    return dict(json.loads(_bytes(signed.partition(".")[2])))


@dataclass(frozen=True)
class Called:
    """One request that the gateway took."""

    id: str
    told: dict[str, Any]
    raw: str


@dataclass
class FakeGateway(Listener):
    """A practice's gateway, written from what the README says of the contract."""

    secret: str = "only for tests"
    requests: list[Called] = field(default_factory=list)

    @property
    def url(self) -> str:
        return f"{self.origin}/alerts"

    @property
    def rung(self) -> list[str]:
        """Which phones it rang: a twin rings once."""
        once = {one.id: one.told["phone"] for one in self.requests}
        return list(once.values())

    def take(self, path: str, headers: Any, body: bytes) -> int:
        at = headers.get("Companion-Time", "")
        expected = hmac.new(self.secret.encode(), f"{at}.".encode() + body, hashlib.sha256).hexdigest()
        if not hmac.compare_digest(f"v1={expected}", headers.get("Companion-Signature", "")):
            return 401
        if not at.isdigit() or abs(time.time() - int(at)) > 300:
            return 401
        told = json.loads(body)
        if told["id"] != headers.get("Companion-Id"):
            return 400
        self.requests.append(Called(told["id"], told, body.decode()))
        return 204


def _text(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def _bytes(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
