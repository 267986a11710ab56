"""A person's browsers that take pushes: switched on by themselves, on that browser, and off from any."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.common.errors import InvalidInput, NotFound, Problem
from companion.common.ids import is_id
from companion.delivery.outgoing import Outgoing, Refused, check_url
from companion.delivery.push import Browser, check_browser
from companion.store.models import Outbox, PushSubscription
from companion.store.queries.channels import PUSH, gone, subscriptions_of
from companion.usecases import signing
from companion.usecases.actor import Actor, own_account
from companion.usecases.audit import note

MOST = 10
"""How many browsers of one person take pushes; one more ends the oldest."""
STOPPED_SHOWN = timedelta(days=30)
"""So long its owner is shown a browser that stopped by itself, unless alerts are on there again."""
TEST = "device_test"
BROKEN = Problem("subscription_form", "subscription")


def devices(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """The person's browsers that take pushes, the newest first, and those that have stopped by themselves."""
    own_account(session, actor)
    return {
        "devices": [
            {
                "id": row.id,
                "agent": row.device_name,
                "since": row.created_at.isoformat(timespec="seconds"),
                "took_one_at": row.last_accepted_at and row.last_accepted_at.isoformat(timespec="seconds"),
                "failing": row.failing_since is not None,
                "says_more": row.says_more,
                "here": row.sign_in_id == actor.sign_in_id,
            }
            for row in reversed(subscriptions_of(session, actor.person_id))
        ],
        "stopped": [
            {"agent": row.device_name, "at": row.ended_at and row.ended_at.isoformat(timespec="seconds")}
            for row in gone(session, now - STOPPED_SHOWN, actor.person_id)
        ],
        "staff": bool(actor.works_at),
        "can_test": _practice_of(session, actor) is not None,
    }


def subscribe(
    session: Session,
    actor: Actor,
    asked: Mapping[str, Any],
    agent: str,
    limits: Outgoing,
    now: datetime,
) -> dict[str, Any]:
    """Let the browser that asks take this person's pushes from now on; asked again, it is the same browser.

    asked: ``{"subscription": PushSubscription.toJSON(), "says_more": bool}``; a browser that has moved by itself
    says ``"instead_of": endpoint`` in place of the second, ``null`` where it does not know it any more. Whoever
    used the browser before gets nothing there.
    """
    own_account(session, actor)
    browser = _browser(asked, limits)
    if "instead_of" in asked:
        browser = _moved(session, actor, browser, asked["instead_of"], now)
    mark = _mark(browser.endpoint)
    theirs = session.scalars(select(PushSubscription).where(PushSubscription.endpoint_hash == mark)).all()
    for other in theirs:
        if other.person_id != actor.person_id:
            other.ended_at, other.failing_since = other.ended_at or now, None
    row = next((one for one in theirs if one.person_id == actor.person_id), None)
    if row is None:
        row = PushSubscription(person_id=actor.person_id, endpoint_hash=mark, created_at=now)
        session.add(row)
    row.endpoint, row.p256dh, row.auth = browser.endpoint, browser.p256dh, browser.auth
    row.sign_in_id, row.device_name, row.says_more = actor.sign_in_id, agent[:120], browser.says_more
    row.ended_at = row.failing_since = None
    session.flush()
    good = [one for one in subscriptions_of(session, actor.person_id) if one.id != row.id]
    for old in good[: max(0, len(good) + 1 - MOST)]:
        old.ended_at = now
    note(session, None, actor.person_id, "subscribe", "push_subscription", row.id, now)
    session.commit()
    return {"id": row.id, "says_more": row.says_more}


def unsubscribe(session: Session, actor: Actor, subscription_id: str, now: datetime) -> None:
    """Let one of this person's browsers take no pushes any more."""
    own_account(session, actor)
    row = session.get(PushSubscription, subscription_id) if is_id(subscription_id) else None
    if row is None or row.person_id != actor.person_id:
        raise NotFound("push_subscription")
    _end(session, actor, row, now)


def unsubscribe_here(session: Session, actor: Actor, endpoint: str, now: datetime) -> None:
    """The same, asked by the browser itself, which knows its endpoint. One that nobody knows has ended already."""
    own_account(session, actor)
    row = _mine(session, actor, endpoint)
    if row is not None:
        _end(session, actor, row, now)


def send_test(session: Session, actor: Actor, now: datetime) -> int:
    """Write a test to each of the person's browsers; return to how many. A test still under way is not doubled."""
    person = own_account(session, actor)
    practice_id = _practice_of(session, actor)
    if practice_id is None:
        raise NotFound("practice")
    rows = subscriptions_of(session, actor.person_id)
    addresses = [row.id for row in rows]
    waiting = set(
        session.scalars(
            select(Outbox.address).where(
                Outbox.channel == PUSH,
                Outbox.address.in_(addresses),
                Outbox.sent_at.is_(None),
                Outbox.given_up_at.is_(None),
            )
        )
    )
    for address in addresses:
        if address not in waiting:
            message = {"key": TEST, "language": person.language, "values": {}}
            session.add(
                Outbox(
                    practice_id=practice_id,
                    channel=PUSH,
                    address=address,
                    message=message,
                    created_at=now,
                    due_at=now,
                )
            )
    session.commit()
    return len(addresses)


def _moved(session: Session, actor: Actor, browser: Browser, old: object, now: datetime) -> Browser:
    """Let a browser take over from itself, as its owner had it. Nobody switches one on that way: one that does not
    know its old place is found by the sign-in under which it was switched on."""
    mark = _mark(str(old))
    row = next(
        (
            one
            for one in subscriptions_of(session, actor.person_id)
            if (one.sign_in_id == actor.sign_in_id if old is None else one.endpoint_hash == mark)
        ),
        None,
    )
    if row is None:
        raise InvalidInput(BROKEN)
    row.ended_at, row.failing_since = now, None
    return replace(browser, says_more=row.says_more)


def _mine(session: Session, actor: Actor, endpoint: str) -> PushSubscription | None:
    mine = PushSubscription.person_id == actor.person_id, PushSubscription.endpoint_hash == _mark(endpoint)
    return session.scalar(select(PushSubscription).where(*mine))


def _mark(endpoint: str) -> str:
    return sha256(endpoint.encode()).hexdigest()


def _browser(asked: Mapping[str, Any], limits: Outgoing) -> Browser:
    """Read what a browser says of itself. Raises InvalidInput."""
    told = asked.get("subscription")
    keys = told.get("keys") if isinstance(told, Mapping) else None
    says_more = asked.get("says_more", False)
    if not isinstance(told, Mapping) or not isinstance(keys, Mapping) or not isinstance(says_more, bool):
        raise InvalidInput(BROKEN)
    endpoint, p256dh, auth = told.get("endpoint"), keys.get("p256dh"), keys.get("auth")
    if not isinstance(endpoint, str) or not isinstance(p256dh, str) or not isinstance(auth, str):
        raise InvalidInput(BROKEN)
    browser = Browser(endpoint, p256dh, auth, says_more)
    try:
        check_url(endpoint, limits)
        check_browser(browser)
    except (Refused, ValueError) as error:
        raise InvalidInput(BROKEN) from error
    return browser


def _end(session: Session, actor: Actor, row: PushSubscription, now: datetime) -> None:
    row.ended_at, row.failing_since = row.ended_at or now, None  # its owner's own wish
    note(session, None, actor.person_id, "end", "push_subscription", row.id, now)
    session.commit()


def _practice_of(session: Session, actor: Actor) -> str | None:
    """In whose name a test goes out: the person's work place, or their wearer's practice."""
    if actor.practice_id is not None:
        return actor.practice_id
    wearers = signing.wearers_of(session, actor)
    return wearers[0].practice_id if wearers else None
