"""A web process or a worker of the tests, which dies where it is told.

It dies by an exception that nothing in the house catches. From then on it can neither write nor send, so that no
``finally`` tidies up what a killed process would have left behind.
"""

from __future__ import annotations

import socket
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from fakes import IMPATIENCE_S, PATIENCE_S
from sqlalchemy import event
from telling import actor_named, tell

from companion.clockwork.worker import carriers
from companion.config import Settings
from companion.delivery.base import Message
from companion.store.engine import Store
from companion.usecases.climbing import climb_alerts
from companion.usecases.heartbeats import run_held
from companion.usecases.rechecking import recheck_reports
from companion.usecases.sending import Carrier, due_by_lane, send_due

if TYPE_CHECKING:
    from world import World

BASE = "https://companion.example"


class Killed(BaseException):
    """The process is gone: nothing in the house catches this."""


@dataclass
class Points:
    """Every step of a process that leaves something behind, in order; the one it dies at."""

    die_at: int | str | None = None
    """The number of a point, or the name of the first such."""
    names: list[str] = field(default_factory=list)
    dead: bool = False

    def reach(self, name: str) -> None:
        self.check()
        self.names.append(name)
        if self.die_at in (len(self.names) - 1, name):
            self.dead = True
            raise Killed(name)

    def is_next(self) -> bool:
        return len(self.names) == self.die_at

    def check(self) -> None:
        if self.dead:
            raise Killed("dead")


class Doomed:
    """A store whose every commit is a point of the process that uses it now. What an engine has learnt of SQL is
    kept from one process to the next; its connections are not."""

    def __init__(self, url: str) -> None:
        self.store, self.points = Store(url), Points()
        sessions = self.store._sessions
        event.listen(sessions, "before_commit", lambda session: self._at_commit(session, "before"))
        event.listen(sessions, "after_commit", lambda session: self._at_commit(session, "after"))
        event.listen(self.store.engine, "before_cursor_execute", lambda *_: self.points.check())
        if self.store.engine.dialect.name == "sqlite":
            event.listen(self.store.engine, "connect", _unsynced)

    def _at_commit(self, session: Any, side: str) -> None:
        if not session.in_nested_transaction():
            self.points.reach(f"{side} the commit of {_whose()}")


class Process:
    """A web process or a worker."""

    def __init__(self, world: World, name: str, die_at: int | str | None = None) -> None:
        self.world, self.name, self.points = world, name, Points(die_at)
        self._doomed = world.stores.pop() if world.stores else Doomed(world.url)
        self._doomed.points = self.points
        self.store = self._doomed.store
        self.carriers = {name: self._watched(name, one) for name, one in self._carriers().items()}

    def _carriers(self) -> Mapping[str, Carrier]:
        ways = dict(carriers(self.world.settings, self.store))
        if self.world.impatient:
            ways[self.world.impatient] = carriers(_hurried(self.world.settings), self.store)[self.world.impatient]
        return {name: one for name, one in ways.items() if name in self.world.ways}

    def _watched(self, name: str, carrier: Carrier) -> Carrier:
        def watched(message: Message) -> str:
            self.points.reach(f"before {name}")
            self.world.under_way = (name, message.reference, self.world.clock())
            with cutting(self.points, name):
                receipt = carrier(message)
            self.points.reach(f"after {name} has accepted")
            return receipt

        return watched

    def report(self, raw: dict[str, Any]) -> None:
        """Take a family's report, as the web process does."""
        gwen = actor_named(self.store, self.world.cast.people["Gwen"])
        tell(self.store, gwen, self.world.cast.wearers["Nola"], self.world.clock(), raw)

    def round(self) -> None:
        """Tick every job once."""
        now = self.world.clock
        for name, run in (
            ("climb", lambda: climb_alerts(self.store, now())),
            ("recheck", lambda: recheck_reports(self.store, now())),
            ("send", lambda: None),
        ):
            run_held(self.store, name, run, now)
        self.send()  # the job only starts the hands: its lease is over by now

    def send(self) -> None:
        """Carry what is due, lane by lane."""
        for lane in sorted(due_by_lane(self.store, self.world.clock())):
            send_due(self.store, self.carriers, BASE, self.name, self.world.clock, lane=lane)

    def close(self) -> None:
        self._doomed.points = Points()
        self.store.close()
        self.world.stores.append(self._doomed)


def _hurried(settings: Settings) -> Settings:
    assert settings.mail is not None
    mail = replace(settings.mail, patience_s=IMPATIENCE_S, whole_s=2 * IMPATIENCE_S)
    return replace(settings, mail=mail, outgoing=replace(settings.outgoing, patience_s=IMPATIENCE_S))


def _unsynced(connection: Any, _record: Any) -> None:
    """No power fails in these tests, and thousands of commits are made."""
    connection.execute("PRAGMA synchronous=OFF")


def _whose() -> str:
    """Return the use case that commits."""
    frame = sys._getframe(2)
    while frame is not None:
        if "/companion/usecases/" in frame.f_code.co_filename:
            return frame.f_code.co_name.strip("_")
        frame = frame.f_back  # type: ignore[assignment]
    return "nobody"


def _await_answer(line: socket.socket) -> None:
    """Wait until the other side has dealt with what it was sent; its answer stays unread."""
    line.settimeout(PATIENCE_S)
    with suppress(OSError):
        line.recv(1, socket.MSG_PEEK)


@contextmanager
def cutting(points: Points, channel: str) -> Iterator[None]:
    """Make each packet that this thread sends a point to die at: with half of it out, and with all of it out."""
    whole, me = socket.socket.sendall, threading.get_ident()

    def sendall(line: socket.socket, data: Any, *flags: Any) -> None:
        if threading.get_ident() != me:
            return whole(line, data, *flags)
        points.check()
        half = len(data) // 2
        line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)  # or a half packet waits to go for 0.04 s
        whole(line, data[:half], *flags)
        points.reach(f"half way through a packet to {channel}")
        whole(line, data[half:], *flags)
        if points.is_next() and not data.endswith(b"\r\n\r\n"):  # the head of a request has no answer
            _await_answer(line)
        points.reach(f"after a packet to {channel}")
        return None

    socket.socket.sendall = sendall  # type: ignore[method-assign]
    try:
        yield
    finally:
        socket.socket.sendall = whole  # type: ignore[method-assign]


def dies(act: Callable[[], object]) -> bool:
    """Let a process act; say whether it died."""
    with suppress(Killed):
        act()
        return False
    return True
