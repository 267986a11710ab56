"""Messages to browsers and gateways, from the outbox on: found, sent, recorded; the gone are not asked again."""

from __future__ import annotations

import pytest
from fake_channels import Answer, FakeBrowser, FakeGateway, PushService
from fakes import Clock
from people import Cast
from sqlalchemy import select

from companion.clockwork.worker import carriers
from companion.config import Settings
from companion.phrasebook.mail_words import FAMILY_LETTERS, SUBJECTS
from companion.store.engine import Store
from companion.store.models import Outbox, PushSubscription, SignIn, Webhook
from companion.store.queries import channels
from companion.usecases.sending import PAUSES_S, Sent, send_due
from companion.usecases.signing import open_sign_in

BASE = "https://companion.example"
PHONE = "+441632960001"
STAFF_MESSAGE = {"key": "alert", "language": "en", "values": {"alert_id": "a1", "level": 4}}


def subscribe(store: Store, cast: Cast, clock: Clock, name: str, browser: FakeBrowser, **more: bool) -> str:
    with store.writing() as session:
        open_sign_in(session, cast.people[name], clock(), "tests")
        session.flush()
        sign_in = session.scalars(select(SignIn).where(SignIn.person_id == cast.people[name])).all()[-1]
        row = PushSubscription(
            person_id=cast.people[name],
            sign_in_id=sign_in.id,
            endpoint=browser.endpoint,
            endpoint_hash=browser.endpoint,
            p256dh=browser.p256dh,
            auth=browser.auth,
            created_at=clock(),
            **more,
        )
        session.add(row)
        session.commit()
        return row.id


def set_up(store: Store, cast: Cast, clock: Clock, gateway: FakeGateway) -> str:
    with store.writing() as session:
        row = Webhook(
            practice_id=cast.practices["mill"], url=gateway.url, secret=gateway.secret, created_at=clock()
        )
        session.add(row)
        session.flush()
        address = channels.webhook_address(row, PHONE)
        session.commit()
        return address


def queue(
    store: Store, cast: Cast, clock: Clock, channel: str, address: str, message: dict[str, object]
) -> str:
    with store.writing() as session:
        row = Outbox(
            practice_id=cast.practices["mill"],
            channel=channel,
            address=address,
            message=message,
            created_at=clock(),
            due_at=clock(),
        )
        session.add(row)
        session.commit()
        return row.id


def run(store: Store, settings: Settings, clock: Clock) -> Sent:
    return send_due(store, carriers(settings, store), BASE, "one", clock)


def test_a_push_goes_to_each_browser_and_says_nothing_to_a_stranger(
    store: Store, cast: Cast, clock: Clock, settings: Settings, push_service: PushService
) -> None:
    assert settings.push is not None
    phone, desk = (push_service.subscribe(settings.push.public_key) for _ in range(2))
    for browser, more in ((phone, False), (desk, True)):
        row = subscribe(store, cast, clock, "Asta", browser, says_more=more)
        queue(store, cast, clock, "push", row, STAFF_MESSAGE)
    assert run(store, settings, clock) == Sent(sent=2)
    (neutral,), (plain,) = push_service.pushes_to(phone), push_service.pushes_to(desk)
    assert neutral.told["text"] == "You are needed now. Tap to see why."
    assert plain.told["text"] == "A report at level 4 needs you"
    assert neutral.told["path"] == "/desk/alerts/a1/take"
    assert neutral.topic == plain.topic
    with store.reading() as session:
        assert all(one.last_accepted_at == clock() for one in session.scalars(select(PushSubscription)))


@pytest.mark.parametrize("key", [*SUBJECTS, *FAMILY_LETTERS])
@pytest.mark.parametrize("language", ["en", "zh-Hans", "ar"])
def test_no_push_names_anybody_or_a_symptom(
    store: Store, cast: Cast, clock: Clock, settings: Settings, push_service: PushService, key: str, language: str
) -> None:
    row = subscribe(store, cast, clock, "Gwen", push_service.subscribe())
    message = {"key": key, "language": language, "values": {"alert_id": "a1", "level": 5}}
    queue(store, cast, clock, "push", row, message)
    assert run(store, settings, clock) == Sent(sent=1)
    said = push_service.pushes[0].told["title"] + push_service.pushes[0].told["text"]
    assert not any(name in said for name in (*cast.people, *cast.wearers))
    assert not any(word in said.lower() for word in ("eye", "lens", "level", "report", "5", "眼", "عين"))


def test_H2_a_browser_that_is_gone_is_asked_once(
    store: Store, cast: Cast, clock: Clock, settings: Settings, push_service: PushService
) -> None:
    push_service.answer = Answer.GONE
    row = subscribe(store, cast, clock, "Asta", push_service.subscribe())
    queue(store, cast, clock, "push", row, STAFF_MESSAGE)
    assert run(store, settings, clock) == Sent(given_up=1)
    with store.reading() as session:
        assert channels.subscriptions_of(session, cast.people["Asta"]) == []
    queue(store, cast, clock, "push", row, STAFF_MESSAGE)
    assert run(store, settings, clock) == Sent(given_up=1)
    assert len(push_service.calls) == 1


def test_H2_a_service_in_trouble_is_known_as_failing_until_it_takes_one(
    store: Store, cast: Cast, clock: Clock, settings: Settings, push_service: PushService
) -> None:
    push_service.answer, since = Answer.TROUBLE, clock()
    row = subscribe(store, cast, clock, "Asta", push_service.subscribe())
    queue(store, cast, clock, "push", row, STAFF_MESSAGE)
    for pause_s in PAUSES_S[:2]:
        assert run(store, settings, clock) == Sent(put_off=1)
        with store.reading() as session:
            assert [one.failing_since for one in channels.failing(session)[0]] == [since]
        clock.advance(seconds=pause_s)
    push_service.answer = Answer.ACCEPT
    assert run(store, settings, clock) == Sent(sent=1)
    with store.reading() as session:
        assert channels.failing(session) == ([], [])


def test_a_phone_that_was_signed_out_stays_quiet(
    store: Store, cast: Cast, clock: Clock, settings: Settings, push_service: PushService
) -> None:
    row = subscribe(store, cast, clock, "Asta", push_service.subscribe())
    with store.writing() as session:
        session.get_one(SignIn, session.get_one(PushSubscription, row).sign_in_id).ended_at = clock()
        session.commit()
    queue(store, cast, clock, "push", row, STAFF_MESSAGE)
    assert run(store, settings, clock) == Sent(given_up=1)
    assert push_service.calls == []


def test_a_gateway_is_told_whom_to_reach(
    store: Store, cast: Cast, clock: Clock, settings: Settings, gateway: FakeGateway
) -> None:
    queue(store, cast, clock, "webhook", set_up(store, cast, clock, gateway), STAFF_MESSAGE)
    assert run(store, settings, clock) == Sent(sent=1)
    (call,) = gateway.requests
    assert (call.told["phone"], call.told["level"]) == (PHONE, 4)
    assert call.told["link"] == f"{BASE}/desk/alerts/a1/take"
    assert not any(name in call.raw for name in (*cast.people, *cast.wearers))


@pytest.mark.parametrize(("answer", "failing"), [(Answer.TROUBLE, True), (Answer.UNREACHABLE, False)])
def test_H2_a_gateway_that_cannot_reach_one_phone_still_works(
    store: Store,
    cast: Cast,
    clock: Clock,
    settings: Settings,
    gateway: FakeGateway,
    answer: Answer,
    failing: bool,
) -> None:
    gateway.answer = answer
    queue(store, cast, clock, "webhook", set_up(store, cast, clock, gateway), STAFF_MESSAGE)
    assert run(store, settings, clock) == (Sent(put_off=1) if failing else Sent(given_up=1))
    with store.reading() as session:
        assert bool(channels.failing(session)[1]) is failing


def test_H2_a_channel_that_is_not_set_up_is_our_fault_and_nobodys_address(
    store: Store, cast: Cast, clock: Clock, push_service: PushService
) -> None:
    row = subscribe(store, cast, clock, "Asta", push_service.subscribe())
    queue(store, cast, clock, "push", row, STAFF_MESSAGE)
    assert send_due(store, {}, BASE, "one", clock) == Sent(put_off=1)
    with store.reading() as session:
        assert channels.failing(session) == ([], [])
