"""The hands of a worker at work at once: what hangs holds up nothing else, and one message has one hand."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import timedelta

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from world import Count

from companion.clockwork.lanes import HANDS, Lanes
from companion.clockwork.ticks import Job, Ticker
from companion.delivery.base import Message
from companion.store.engine import Store
from companion.store.models import JobRun, Outbox
from companion.usecases.heartbeats import run_held
from companion.usecases.sending import LEASE, Carrier, claim

SOON_S = 30.0
"""How long a thread is waited for before the test calls it held up [s]."""


class Channel:
    """A channel of which some addresses hang until they are let go."""

    def __init__(self, *hanging: str) -> None:
        self.hanging, self.kept = set(hanging), list[str]()
        self.let_go, self.changed = threading.Event(), threading.Condition()

    def __call__(self, message: Message) -> str:
        if "*" in self.hanging or message.address in self.hanging:
            self.let_go.wait()
        with self.changed:
            self.kept.append(message.address)
            self.changed.notify_all()
        return "receipt"

    def has(self, *addresses: str) -> bool:
        with self.changed:
            return self.changed.wait_for(lambda: set(addresses) <= set(self.kept), SOON_S)


def queue(store: Store, practice_id: str, clock: Clock, channel: str, *addresses: str) -> None:
    with store.writing() as session:
        for address in addresses:
            message = {"key": "alert", "language": "en", "values": {"alert_id": "alert", "level": 5}}
            session.add(
                Outbox(
                    practice_id=practice_id, channel=channel, address=address, message=message,
                    created_at=clock(), due_at=clock(),
                )
            )  # fmt: skip
        session.commit()


def marked(store: Store) -> Counter[str]:
    with store.reading() as session:
        return Counter(session.scalars(select(Outbox.channel).where(Outbox.sent_at.is_not(None))))


@contextmanager
def at_work(store: Store, carriers: Mapping[str, Carrier], clock: Callable[[], object]) -> Iterator[Lanes]:
    lanes = Lanes(store, carriers, "https://companion.example", "one", clock)  # type: ignore[arg-type]
    try:
        yield lanes
    finally:
        for one in carriers.values():
            one.let_go.set()  # type: ignore[attr-defined]
        lanes.stop()


@pytest.mark.parametrize("dead", ["mail", "push", "webhook"])
def test_H2_a_channel_that_hangs_holds_up_no_other(
    store: Store, cast: Cast, clock: Clock, dead: str, record_property: Count
) -> None:
    mill = cast.practices["mill"]
    channels = {one: Channel(*("*" if one == dead else "")) for one in ("mail", "push", "webhook")}
    for one in channels:
        queue(store, mill, clock, one, *(f"{one} {number}" for number in range(2 * HANDS)))
    with at_work(store, channels, clock) as lanes:
        lanes.start_due()
        for name, channel in channels.items():
            if name != dead:
                assert channel.has(*(f"{name} {number}" for number in range(2 * HANDS)))
        assert channels[dead].kept == []
        for name in channels.keys() - {dead}:  # what comes later is not held up either
            queue(store, mill, clock, name, f"{name} later")
            lanes.start_due()
            assert channels[name].has(f"{name} later")
    assert marked(store)[dead] >= HANDS, "who was waited for is sent in the end"
    record_property("hanging channels", 1)


def test_H2_dead_addresses_hold_up_no_other_of_their_channel(
    store: Store, cast: Cast, clock: Clock, record_property: Count
) -> None:
    """Three mailboxes hang, each with several messages: the fourth hand carries everybody else's."""
    mill, dead = cast.practices["mill"], ("dead 1", "dead 2", "dead 3")
    mail = Channel(*dead)
    for _ in range(3):
        queue(store, mill, clock, "mail", *dead)
    living = [f"living {number}" for number in range(12)]
    queue(store, mill, clock, "mail", *living)
    with at_work(store, {"mail": mail}, clock) as lanes:
        lanes.start_due()
        assert mail.has(*living)
    record_property("hanging channels", len(dead))


def test_H2_one_practices_dead_gateway_holds_up_no_other_practice(
    store: Store, cast: Cast, clock: Clock, record_property: Count
) -> None:
    dead = [f"gateway-of-mill +4416329600{number:02}" for number in range(3 * HANDS)]
    webhook = Channel(*dead)
    queue(store, cast.practices["mill"], clock, "webhook", *dead)
    queue(store, cast.practices["hill"], clock, "webhook", "gateway-of-hill")
    with at_work(store, {"webhook": webhook}, clock) as lanes:
        lanes.start_due()
        assert webhook.has("gateway-of-hill")
    record_property("hanging channels", 1)


def test_H2_two_workers_with_many_hands_send_each_message_once(
    store: Store, store_url: str, cast: Cast, clock: Clock, record_property: Count
) -> None:
    addresses = [f"p{number}" for number in range(60)]
    for number, name in enumerate(("mail", "push", "webhook")):
        queue(store, cast.practices["mill"], clock, name, *addresses[number::3])
    channels = {one: Channel() for one in ("mail", "push", "webhook")}
    other = Store(store_url)
    with at_work(store, channels, clock) as one, at_work(other, channels, clock) as two:
        one.start_due()
        two.start_due()
        for number, name in enumerate(channels):
            assert channels[name].has(*addresses[number::3])
    other.close()
    assert sorted(address for one in channels.values() for address in one.kept) == sorted(addresses)
    assert marked(store).total() == 60
    record_property("races", 60)


def test_H2_of_many_hands_that_reach_for_one_message_one_has_it(
    store: Store, store_url: str, cast: Cast, clock: Clock, record_property: Count
) -> None:
    rounds, hands = 12, 4
    stores = [Store(store_url) for _ in range(hands)]
    for number in range(rounds):
        queue(store, cast.practices["mill"], clock, "mail", f"to {number}")
        start, got = threading.Barrier(hands), list[str]()

        def reach(own: Store, hand: str, start: threading.Barrier = start, got: list[str] = got) -> None:
            start.wait()
            row = claim(own, hand, clock())
            if row is not None:
                got.append(f"{hand} {row.address} {row.lease_until}")

        threads = [threading.Thread(target=reach, args=(own, f"hand {i}")) for i, own in enumerate(stores)]
        for one in threads:
            one.start()
        for one in threads:
            one.join()
        assert len(got) == 1
        assert got[0].endswith(f"to {number} {clock() + LEASE}")
    for own in stores:
        own.close()
    record_property("races", rounds)


def test_H2_a_job_that_hangs_holds_up_no_other_job(store: Store, clock: Clock) -> None:
    let_go, climbed = threading.Event(), threading.Event()
    jobs = [
        Job("recheck", timedelta(seconds=1), lambda: let_go.wait(SOON_S)),
        Job("climb", timedelta(seconds=1), climbed.set),
    ]
    ticker = Ticker(store, jobs, clock, timedelta(seconds=30))
    ticker.start()
    assert climbed.wait(SOON_S)
    let_go.set()
    ticker.stop()


def test_H2_a_heartbeat_goes_on_after_the_clock_was_put_back(store: Store, clock: Clock) -> None:
    runs: list[int] = []
    job = Job("send", timedelta(seconds=1), lambda: runs.append(1), is_due=lambda: False)
    ticker = Ticker(store, [job], clock, timedelta(seconds=30))
    assert ticker.tick(job)
    clock.advance(hours=-1)
    assert ticker.tick(job)
    assert not ticker.tick(job)


def test_H2_a_job_whose_worker_died_before_the_clock_was_put_back_is_taken_up(store: Store, clock: Clock) -> None:
    with store.writing() as session:
        session.add(JobRun(name="climb", lease_until=clock() + LEASE, started_at=clock()))
        session.commit()
    assert not run_held(store, "climb", lambda: None, clock)
    clock.advance(hours=-1)
    assert run_held(store, "climb", lambda: None, clock)
