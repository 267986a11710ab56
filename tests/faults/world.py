"""A house to break: its store, its three channels on loopback, and one clock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

import people
from cryptography.hazmat.primitives.asymmetric import ec
from fake_channels import Answer, FakeGateway, PushService
from fakes import PATIENCE_S, Clock, Mode, Postbox
from processes import BASE, Doomed, Process
from sqlalchemy import delete, select, update
from telling import report

from companion.config import Settings
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
from companion.usecases.climbing import family_news

CHANNELS = ("mail", "push", "webhook")
SECRET = "only for tests"
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


@dataclass(frozen=True)
class Accepted:
    """One message that somebody outside took."""

    channel: str
    reference: str
    begun: datetime
    """When it was claimed, at the latest."""


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
        self.strangers = False
        """Processes of another kind are at work: what they send is not noted here."""
        self.stores: list[Doomed] = []
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
        if self.strangers:
            return
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
