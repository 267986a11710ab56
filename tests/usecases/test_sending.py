"""The outbox under a real mail server that refuses, hangs, drops and doubles; under kills; under two workers."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta

import pytest
from fakes import IMPATIENCE_S, PATIENCE_S, Clock, Mode, Postbox
from people import Cast
from sqlalchemy import select

from companion.delivery.base import Message
from companion.delivery.mail import MailServer, send_mail
from companion.store.engine import Store
from companion.store.models import Alert, Delivery, EntryRow, Outbox, Person, Practice
from companion.usecases.reaching import queue_step
from companion.usecases.sending import LEASE, LONGEST_TRY, PAUSES_S, Sent, pause_after, send_due

pytestmark = pytest.mark.usefixtures("alert")
BASE = "https://companion.example"


@pytest.fixture
def alert(store: Store, cast: Cast, clock: Clock) -> str:
    """A report at level 4 about Nola, and the id of its alert."""
    now, mill, nola = clock(), cast.practices["mill"], cast.wearers["Nola"]
    with store.writing() as session:
        session.add(
            EntryRow(
                id="entry",
                practice_id=mill,
                wearer_id=nola,
                seq=1,
                kind="symptom_report",
                at=now,
                zone="UTC",
                made_at=now,
                received_at=now,
                payload={},
            )
        )
        session.flush()
        session.add(Alert(id="alert", practice_id=mill, wearer_id=nola, entry_id="entry", level=4, raised_at=now))
        session.commit()
    return "alert"


def queue(store: Store, clock: Clock, *names: str) -> list[str]:
    """Queue one step of the alert for each person, as a report does."""
    with store.writing() as session:
        alert = session.get_one(Alert, "alert")
        for name in names:
            person = session.scalars(select(Person).where(Person.name == name)).one()
            queue_step(session, alert, 0, person, "alert", clock())
        session.flush()
        rows = session.scalars(select(Outbox)).all()
        ids = {row.address: row.id for row in rows}
        session.commit()
    return [ids[address(name)] for name in names]


def address(name: str) -> str:
    return f"{name.lower()}@example.org"


def by_mail(box: Postbox) -> Callable[[Message], str]:
    def send(message: Message) -> str:
        patience_s = IMPATIENCE_S if box.answer_of(message.address) is Mode.HANG else PATIENCE_S
        server = MailServer(box.host, box.port, "companion@practice.example", patience_s=patience_s)
        return send_mail(server, message)

    return send


def run(store: Store, box: Postbox, clock: Clock, worker: str = "one") -> Sent:
    return send_due(store, {"mail": by_mail(box)}, BASE, worker, clock)


def row_of(store: Store, outbox_id: str) -> Outbox:
    with store.reading() as session:
        row = session.get_one(Outbox, outbox_id)
        session.expunge(row)
        return row


def delivery_of(store: Store, outbox_id: str) -> Delivery:
    with store.reading() as session:
        delivery = session.get_one(Delivery, session.get_one(Outbox, outbox_id).delivery_id)
        session.expunge(delivery)
        return delivery


def test_what_is_due_is_sent_once_and_recorded(store: Store, postbox: Postbox, clock: Clock) -> None:
    (one,) = queue(store, clock, "Asta")
    assert run(store, postbox, clock) == Sent(sent=1)
    assert run(store, postbox, clock) == Sent()
    assert postbox.recipients == [address("Asta")]
    assert row_of(store, one).sent_at == clock()
    assert delivery_of(store, one).handed_over_at == clock()
    assert delivery_of(store, one).delivered_at is None


def test_the_letter_names_nobody_and_links_to_the_page_with_the_button(
    store: Store, postbox: Postbox, clock: Clock
) -> None:
    queue(store, clock, "Asta")
    run(store, postbox, clock)
    (letter,) = postbox.letters
    text = letter.get_content() + letter["Subject"]
    assert f"{BASE}/desk/alerts/alert/take" in text
    assert "Nola" not in text
    assert not any(word in text.lower() for word in ("red", "pain", "eye", "lens", "sore"))


def test_H2_a_server_that_is_down_is_tried_again_with_growing_pauses(
    store: Store, postbox: Postbox, clock: Clock
) -> None:
    postbox.close()
    (one,) = queue(store, clock, "Asta")
    for attempt, pause_s in enumerate(PAUSES_S, start=1):
        assert run(store, postbox, clock) == Sent(put_off=1)
        assert row_of(store, one).attempts == attempt
        assert row_of(store, one).due_at == clock() + timedelta(seconds=pause_s)
        clock.advance(seconds=pause_s - 1)
        assert run(store, postbox, clock) == Sent()
        clock.advance(seconds=1)
    postbox.open()
    assert run(store, postbox, clock) == Sent(sent=1)
    assert pause_after(1000) == timedelta(seconds=PAUSES_S[-1])


@pytest.mark.parametrize(
    "mode", [Mode.LATER, Mode.LATER_AFTER_DATA, Mode.MISSET, Mode.MISSET_AFTER_DATA, Mode.HANG]
)
def test_H2_a_temporary_refusal_is_tried_again(store: Store, postbox: Postbox, clock: Clock, mode: Mode) -> None:
    postbox.mode = mode
    (one,) = queue(store, clock, "Asta")
    assert run(store, postbox, clock) == Sent(put_off=1)
    assert row_of(store, one).last_error
    postbox.mode = Mode.ACCEPT
    clock.advance(seconds=PAUSES_S[0])
    assert run(store, postbox, clock) == Sent(sent=1)
    assert row_of(store, one).last_error is None


def test_H2_an_unknown_mailbox_is_marked_and_not_repeated(store: Store, postbox: Postbox, clock: Clock) -> None:
    postbox.mode = Mode.NEVER
    (one,) = queue(store, clock, "Asta")
    assert run(store, postbox, clock) == Sent(given_up=1)
    clock.advance(hours=1)
    assert run(store, postbox, clock) == Sent()
    assert row_of(store, one).given_up_at is not None
    assert delivery_of(store, one).failed_at is not None


def test_H2_a_dead_recipient_never_blocks_another(store: Store, postbox: Postbox, clock: Clock) -> None:
    postbox.boxes = {address("Asta"): Mode.HANG, address("Pavel"): Mode.NEVER}
    queue(store, clock, "Asta", "Pavel", "Mina")
    assert run(store, postbox, clock) == Sent(sent=1, put_off=1, given_up=1)
    assert postbox.recipients == [address("Mina")]


def test_H2_fresh_messages_go_before_repeated_ones(store: Store, clock: Clock) -> None:
    tried: list[str] = []

    def note(message: Message) -> str:
        tried.append(message.address.partition("@")[0])
        return "receipt"

    early, _ = queue(store, clock, "Asta", "Pavel")
    with store.writing() as session:
        session.get_one(Outbox, early).attempts = 5
        session.commit()
    clock.advance(minutes=1)
    send_due(store, {"mail": note}, BASE, "one", clock)
    assert tried == ["pavel", "asta"]


def test_H2_a_message_that_breaks_us_does_not_break_its_neighbours(
    store: Store, postbox: Postbox, clock: Clock
) -> None:
    broken, _ = queue(store, clock, "Asta", "Pavel")
    with store.writing() as session:
        session.get_one(Outbox, broken).message = {"key": "nobody wrote this", "language": "en", "values": {}}
        session.commit()
    assert run(store, postbox, clock) == Sent(sent=1, put_off=1)


def test_H2_after_a_day_of_tries_a_message_is_given_up_in_sight(
    store: Store, postbox: Postbox, clock: Clock
) -> None:
    postbox.mode = Mode.LATER
    (one,) = queue(store, clock, "Asta")
    clock.now += LONGEST_TRY
    assert run(store, postbox, clock) == Sent(given_up=1)
    assert delivery_of(store, one).failed_at is not None


class Killed(BaseException):
    """Stands for the process dying: nothing in the house catches it."""


def test_H2_killed_before_sending_another_worker_sends_after_the_lease(
    store: Store, postbox: Postbox, clock: Clock
) -> None:
    queue(store, clock, "Asta")

    def die(message: Message) -> str:
        raise Killed

    with suppress(Killed):
        send_due(store, {"mail": die}, BASE, "one", clock)
    clock.now += LEASE - timedelta(seconds=1)
    assert run(store, postbox, clock, "two") == Sent()
    clock.advance(seconds=1)
    assert run(store, postbox, clock, "two") == Sent(sent=1)


def test_H2_killed_after_sending_a_twin_comes_no_sooner_than_the_lease(
    store: Store, postbox: Postbox, clock: Clock
) -> None:
    (one,) = queue(store, clock, "Asta")

    def send_and_die(message: Message) -> str:
        by_mail(postbox)(message)
        raise Killed

    with suppress(Killed):
        send_due(store, {"mail": send_and_die}, BASE, "one", clock)
    assert row_of(store, one).sent_at is None
    clock.now += LEASE - timedelta(seconds=1)
    run(store, postbox, clock, "two")
    assert len(postbox.letters) == 1
    clock.advance(seconds=1)
    run(store, postbox, clock, "two")
    assert len(postbox.letters) == 2
    assert len({letter["Message-ID"] for letter in postbox.letters}) == 1
    assert row_of(store, one).sent_at is not None


def test_H2_a_slow_worker_that_lost_its_lease_does_not_undo_the_faster_one(
    store: Store, postbox: Postbox, clock: Clock
) -> None:
    (one,) = queue(store, clock, "Asta")

    def overtaken(message: Message) -> str:
        clock.now += LEASE
        assert run(store, postbox, clock, "two") == Sent(sent=1)
        raise OSError("the slow worker sees its own line cut")

    send_due(store, {"mail": overtaken}, BASE, "one", clock)
    assert row_of(store, one).sent_at is not None
    assert run(store, postbox, clock) == Sent()


def test_nothing_is_held_while_a_channel_is_slow(store: Store, store_url: str, cast: Cast, clock: Clock) -> None:
    queue(store, clock, "Asta")

    def writes_meanwhile(message: Message) -> str:
        other = Store(store_url)
        with other.writing() as session:
            session.get_one(Practice, cast.practices["mill"]).name = "written while sending"
            session.commit()
        other.close()
        return "receipt"

    assert send_due(store, {"mail": writes_meanwhile}, BASE, "one", clock) == Sent(sent=1)


def test_a_closed_alert_has_nothing_left_to_say(store: Store, postbox: Postbox, clock: Clock) -> None:
    (one,) = queue(store, clock, "Asta")
    with store.writing() as session:
        session.get_one(Alert, "alert").closed_at = clock()
        session.commit()
    assert run(store, postbox, clock) == Sent()
    assert postbox.letters == []
    assert row_of(store, one).given_up_at is not None
    assert delivery_of(store, one).failed_at is None


def test_H2_two_workers_at_once_send_each_message_once(
    store_url: str, store: Store, cast: Cast, clock: Clock
) -> None:
    with store.writing() as session:
        for number in range(40):
            session.add(
                Outbox(
                    practice_id=cast.practices["mill"], channel="mail", address=f"p{number}@example.org",
                    created_at=clock(), due_at=clock(),
                    message={"key": "alert", "language": "en", "values": {"alert_id": "alert", "level": 3}},
                )
            )  # fmt: skip
        session.commit()
    carried: list[str] = []
    start = threading.Barrier(2)

    def work(name: str) -> None:
        own = Store(store_url)
        start.wait()
        send_due(own, {"mail": lambda message: carried.append(message.address) or "receipt"}, BASE, name, clock)
        own.close()

    workers = [threading.Thread(target=work, args=(name,)) for name in ("one", "two")]
    for one in workers:
        one.start()
    for one in workers:
        one.join()
    assert sorted(carried) == sorted(f"p{number}@example.org" for number in range(40))
