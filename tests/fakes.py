"""Working stand-ins for the world outside: a clock, and a mail server on loopback that can go wrong.

The push service and the gateway are in ``fake_channels``.
"""

from __future__ import annotations

import asyncio
import email
import socket
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from email.policy import default as default_policy
from enum import StrEnum
from types import TracebackType
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, Session


class Clock:
    """Time that moves when told to, and ``followers`` with it."""

    def __init__(self, now: datetime = datetime(2026, 11, 2, 21, 0, tzinfo=UTC)) -> None:
        self.followers: list[Callable[[datetime], object]] = []
        self._now = now

    def __call__(self) -> datetime:
        return self._now

    @property
    def now(self) -> datetime:
        return self._now

    @now.setter
    def now(self, now: datetime) -> None:
        self._now = now
        for follow in self.followers:
            follow(now)

    def advance(self, **by: float) -> datetime:
        self.now += timedelta(**by)
        return self.now


PATIENCE_S, IMPATIENCE_S = 60.0, 0.15
"""How long to wait for an answer that will come [s], however busy the machine is, and for one that will not."""


class Mode(StrEnum):
    """How a mailbox answers."""

    ACCEPT = "accept"
    LATER = "later"  # 451 to the recipient
    NEVER = "never"  # 550 5.1.1 to the recipient: no such mailbox
    MISSET = "misset"  # 550 5.7.1 to the recipient: relaying or policy, a server set up wrongly
    LATER_AFTER_DATA = "later_after_data"  # 451 to the letter
    MISSET_AFTER_DATA = "misset_after_data"  # 554 to the letter
    HANG = "hang"  # no answer to the letter while the caller waits
    ACCEPT_UNSAID = "accept_unsaid"  # keeps the letter, then cuts the line unsaid: a second try makes a twin


@dataclass
class Postbox:
    """A real SMTP server on loopback that keeps what it accepts.

    ``mode`` is the answer to everybody, ``boxes`` to single addresses. ``close()`` refuses connections, ``open()``
    takes them again on the same port.
    """

    mode: Mode = Mode.ACCEPT
    boxes: dict[str, Mode] = field(default_factory=dict)
    letters: list[EmailMessage] = field(default_factory=list)
    recipients: list[str] = field(default_factory=list)
    login: tuple[str, str] | None = None
    host: str = "127.0.0.1"
    port: int = 0
    _controller: Controller | None = None
    _release: asyncio.Event | None = None

    def __post_init__(self) -> None:
        with socket.socket() as probe:
            probe.bind((self.host, 0))
            self.port = probe.getsockname()[1]

    def open(self) -> Postbox:
        options: dict[str, Any] = {}
        if self.login:
            options = {"authenticator": self._may_enter, "auth_require_tls": False, "auth_required": True}
        self._release = asyncio.Event()
        self._controller = Controller(self, hostname=self.host, port=self.port, **options)
        self._controller.start()
        return self

    def close(self) -> None:
        if self._controller is not None and self._release is not None:
            self._controller.loop.call_soon_threadsafe(self._release.set)
            self._controller.stop()
        self._controller = None

    def __enter__(self) -> Postbox:
        return self.open()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # -- what the server asks ----------------------------------------------------------------------------------
    def _may_enter(self, server: SMTP, session: Session, envelope: Envelope, mechanism: str, data: Any) -> Any:
        given = (data.login.decode(), data.password.decode())
        return AuthResult(success=given == self.login, handled=False)

    def answer_of(self, address: str) -> Mode:
        return self.boxes.get(address, self.mode)

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        match self.answer_of(address):
            case Mode.LATER:
                return "451 4.3.0 try again later"
            case Mode.NEVER:
                return "550 5.1.1 no such mailbox"
            case Mode.MISSET:
                return "550 5.7.1 relaying denied"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        address = envelope.rcpt_tos[0]
        mode = self.answer_of(address)
        match mode:
            case Mode.LATER_AFTER_DATA:
                return "451 4.3.0 try again later"
            case Mode.MISSET_AFTER_DATA:
                return "554 5.7.1 not from this sender"
            case Mode.HANG:
                assert self._release is not None
                await self._release.wait()
                return "421 4.4.2 closing"
        content = envelope.content
        assert isinstance(content, bytes)
        letter = email.message_from_bytes(content, policy=default_policy)
        assert isinstance(letter, EmailMessage)
        self.letters.append(letter)
        self.recipients.append(address)
        if mode is Mode.ACCEPT_UNSAID:
            assert server.transport is not None
            server.transport.abort()
        return "250 OK"
