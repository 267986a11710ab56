"""A house to break: its store, its three channels on loopback, one clock, and processes that die where told.

A process dies by an exception that nothing in the house catches. From then on it can neither write nor send, so
that no ``finally`` tidies up what a killed process would have left behind.
"""

from __future__ import annotations

import re
import socket
import sys
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

import people
from cryptography.hazmat.primitives.asymmetric import ec
from fake_channels import Answer, FakeGateway, PushService
from fakes import Clock, Mode, Postbox
from sqlalchemy import delete, event, select, update
from telling import actor_named, report, tell

from companion.clockwork.worker import carriers
from companion.config import Settings
from companion.delivery.base import Message
from companion.delivery.mail import Encryption, MailServer
from companion.delivery.outgoing import Outgoing
from companion.delivery.push import PushSender
from companion.store.base import Base
from companion.store.engine import Store
from companion.store.models import (
    Alert,
    Delivery,
    Membership,
    Outbox,
    Person,
    Practice,
    PushSubscription,
    SignIn,
    Webhook,
)
from companion.usecases.climbing import climb_alerts, family_news
from companion.usecases.heartbeats import run_held
from companion.usecases.rechecking import recheck_reports
from companion.usecases.sending import Carrier, due_by_lane, send_due

CHANNELS = ("mail", "push", "webhook")
PATIENCE_S, IMPATIENCE_S = 10.0, 0.15
"""How long a channel is waited for, and one that will not answer."""
SECRET = "only for tests"
BASE = "https://companion.example"
SAID: Mapping[int, dict[str, str]] = {3: {"redness": "red"}, 4: {"pain": "moderate"}, 5: {"pain": "severe"}}
"""An answer of each level: safety guidance 8.3, R301, R402, R509."""
START: Mapping[int, datetime] = {
    3: datetime(2026, 11, 3, 9, 0, tzinfo=UTC),
    4: people.EVENING,
    5: people.EVENING,
}
"""Level 3 counts the minutes in which the practice is open: a Tuesday at nine."""
STEPS: Mapping[int, tuple[int, ...]] = {3: (0, 120, 150), 4: (0, 15, 30, 60), 5: (0, 5, 10, 40)}
"""When each step and the first repeat are due, in minutes: safety guidance 6.2; the repeat is design."""
FAMILY: Mapping[int, int] = {3: 240, 4: 30, 5: 10}
"""When the family is told that nobody has taken it: safety guidance 6.2."""


Count = Callable[[str, object], None]
"""pytest's ``record_property``: how many faults of a kind a test has injected. The end of a run adds them up."""


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


@dataclass(frozen=True)
class Accepted:
    """One message that somebody outside took."""

    channel: str
    reference: str
    begun: datetime
    """When it was claimed, at the latest."""


class _Doomed:
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
        self._doomed = world.stores.pop() if world.stores else _Doomed(world.url)
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
    line.settimeout(5)
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
        whole(line, data[:half], *flags)
        points.reach(f"half way through a packet to {channel}")
        whole(line, data[half:], *flags)
        if points.is_next():
            _await_answer(line)
        points.reach(f"after a packet to {channel}")
        return None

    socket.socket.sendall = sendall  # type: ignore[method-assign]
    try:
        yield
    finally:
        socket.socket.sendall = whole  # type: ignore[method-assign]


class _Noting(list[Any]):
    """What a fake keeps, with the message that was under way when it came."""

    def __init__(self, world: World, channel: str) -> None:
        super().__init__()
        self._world, self._channel = world, channel

    def append(self, one: Any) -> None:
        super().append(one)
        self._world.note(self._channel, one)


class World:
    """One house, its neighbours, and its time."""

    def __init__(self, url: str, cast: people.Cast, clock: Clock, ways: tuple[str, ...] = CHANNELS) -> None:
        self.url, self.cast, self.clock, self.ways = url, cast, clock, ways
        self.postbox, self.service, self.gateway = Postbox(), PushService(), FakeGateway(secret=SECRET)
        self.settings = Settings(
            database_url=url,
            secret_key=SECRET,
            base_url=BASE,
            mail=MailServer(
                self.postbox.host,
                self.postbox.port,
                "companion@example.org",
                patience_s=PATIENCE_S,
            ),
            push=PushSender(ec.generate_private_key(ec.SECP256R1()), "mailto:companion@example.org"),
            outgoing=Outgoing(loopback=True, patience_s=PATIENCE_S),
        )
        self.level = 4
        self.impatient: str | None = None
        self.stores: list[_Doomed] = []
        self.accepted: list[Accepted] = []
        self.under_way: tuple[str, str, datetime] = ("", "", clock())
        self.postbox.letters = _Noting(self, "mail")
        self.service.pushes = _Noting(self, "push")
        self.gateway.requests = _Noting(self, "webhook")
        self.store = Store(url)
        self._made = _full_tables(self.store)
        self._equip()

    def open(self) -> World:
        for one in (self.postbox, self.service, self.gateway):
            one.open()
        return self

    def close(self) -> None:
        for one in (self.postbox, self.service, self.gateway):
            one.close()
        self.store.close()

    def mend(self) -> None:
        """Leave nothing broken behind."""
        self.impatient, self.postbox.mode = None, Mode.ACCEPT
        self.service.answer = self.gateway.answer = Answer.ACCEPT
        for channel in self.ways:
            self.fake(channel).close()
            self.fake(channel).open()

    def note(self, channel: str, one: Any) -> None:
        way, reference, begun = self.under_way
        assert way == channel, "somebody else sends"
        self.accepted.append(Accepted(channel, reference, begun))

    def fake(self, channel: str) -> Any:
        return {"mail": self.postbox, "push": self.service, "webhook": self.gateway}[channel]

    def point(self, channel: str, origin: str | None) -> None:
        """Let a channel lead to another address, or back to its own."""
        where = origin or f"http://127.0.0.1:{self.fake(channel).port}"
        if channel == "mail":
            assert self.settings.mail is not None
            to = urlsplit(where)
            tls = Encryption.TLS if to.scheme == "https" else Encryption.NONE
            mail = replace(self.settings.mail, host=to.hostname or "", port=to.port or 0, encryption=tls)
            self.settings = replace(self.settings, mail=mail)
            return
        table, column = (Webhook, "url") if channel == "webhook" else (PushSubscription, "endpoint")
        with self.store.writing() as session:
            for row in session.scalars(select(table)):
                setattr(row, column, where + urlsplit(getattr(row, column)).path)
            session.commit()

    def round(self) -> None:
        """A worker comes, does what is due, and goes."""
        worker = Process(self, "worker")
        worker.round()
        worker.close()

    def fresh(self, level: int) -> None:
        """Forget every report, and go back to the beginning."""
        self.level = level
        self.accepted.clear()
        self.clock.now = START[level]
        with self.store.writing() as session:
            for table in reversed(Base.metadata.sorted_tables):
                if table.name not in self._made:
                    session.execute(delete(table))
            for way in (PushSubscription, Webhook):
                session.execute(update(way).values(failing_since=None, ended_at=None, last_accepted_at=None))
            session.commit()

    def _equip(self) -> None:
        """Give the practice's staff a browser and a phone each, and the practice a gateway."""
        now = self.clock()
        with self.store.writing() as session:
            staff = session.scalars(
                select(Person)
                .join(Membership, Membership.person_id == Person.id)
                .where(Membership.practice_id == self.cast.practices["mill"])
            ).all()
            for number, person in enumerate(staff):
                if "mail" not in self.ways:
                    person.email = None
                if "push" in self.ways:
                    browser = self.service.subscribe()
                    sign_in = SignIn(
                        person_id=person.id, token_hash=f"hash {number}", created_at=now, last_seen_at=now
                    )
                    session.add(sign_in)
                    session.flush()
                    keys = {"p256dh": browser.p256dh, "auth": browser.auth, "endpoint_hash": f"hash {number}"}
                    whose = {"person_id": person.id, "sign_in_id": sign_in.id}
                    session.add(PushSubscription(endpoint=browser.endpoint, created_at=now, **keys, **whose))
                person.phone = f"+44163296000{number}"
            if "webhook" in self.ways:
                mill = self.cast.practices["mill"]
                session.add(Webhook(practice_id=mill, url=self.gateway.url, secret=SECRET, created_at=now))
            for guardian in ("Gwen", "Gus"):  # the family's own mail is another matter
                session.get_one(Person, self.cast.people[guardian]).email = None
            session.commit()
        self._made = _full_tables(self.store)

    # -- what the outside sees ---------------------------------------------------------------------------------
    def alerts(self) -> list[Alert]:
        with self.store.reading() as session:
            return list(session.scalars(select(Alert)))

    def rows(self) -> list[tuple[Outbox, Delivery]]:
        with self.store.reading() as session:
            query = select(Outbox, Delivery).join(Delivery, Delivery.id == Outbox.delivery_id)
            return [(row, step) for row, step in session.execute(query.order_by(Delivery.step, Outbox.id))]

    def news(self) -> str | None:
        """What the family is told on its page about the one alert."""
        with self.store.reading() as session:
            alert = session.scalars(select(Alert)).one()
            told = family_news(session, session.get_one(Practice, alert.practice_id), alert, self.clock())
            return told.value if told else None

    def leases(self) -> list[timedelta]:
        """How long the claims under way still last."""
        with self.store.reading() as session:
            return [row.lease_until - self.clock() for row in session.scalars(select(Outbox)) if row.lease_until]

    def tally(self) -> Counter[str]:
        return Counter(one.reference for one in self.accepted)


def _full_tables(store: Store) -> set[str]:
    with store.reading() as session:
        return {
            table.name for table in Base.metadata.sorted_tables if session.execute(select(table).limit(1)).first()
        }


def said(level: int, now: datetime) -> dict[str, Any]:
    """A report about the right eye that is judged as ``level``."""
    return report(now, right=SAID[level])


def dies(act: Callable[[], object]) -> bool:
    """Let a process act; say whether it died."""
    with suppress(Killed):
        act()
        return False
    return True


def kind_of(point: str) -> str:
    """A point's name without what is particular to one message."""
    return re.sub(r"[0-9a-f]{8}-\S+", "", point)
