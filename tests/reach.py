"""Short ways to give people browsers and practices a gateway, and to plan who is told."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.common.ids import new_id
from companion.store.engine import Store
from companion.store.models import Alert, Delivery, Outbox, Person, Practice, PushSubscription, SignIn, Webhook
from companion.usecases.signing import open_sign_in


def add_browser(session: Session, person_id: str, now: datetime) -> str:
    """Let a browser of this person take pushes; return the subscription's id. The caller commits."""
    open_sign_in(session, person_id, now, "a browser")
    sign_in = session.scalars(select(SignIn).where(SignIn.person_id == person_id)).all()[-1]
    mark = new_id()
    row = PushSubscription(
        person_id=person_id,
        sign_in_id=sign_in.id,
        endpoint=f"https://push.example/{mark}",
        endpoint_hash=mark,
        p256dh="key",
        auth="secret",
        created_at=now,
    )
    session.add(row)
    session.flush()
    return row.id


def add_gateway(session: Session, practice_id: str, now: datetime) -> str:
    row = Webhook(practice_id=practice_id, url="https://gateway.example/", secret="secret", created_at=now)
    session.add(row)
    session.flush()
    return row.id


def plan(
    store: Store, practice_id: str, *lines: tuple[str, str, str], on_call: dict[str, list[list[str]]]
) -> None:
    """Set a practice's plan, each line a person, a channel and when; and its hours on call."""
    with store.writing() as session:
        practice = session.get_one(Practice, practice_id)
        practice.alert_plan = [{"person_id": who, "channel": way, "when": when} for who, way, when in lines]
        practice.on_call_hours = on_call
        session.commit()


def messages(store: Store) -> list[tuple[int, str, str, str]]:
    """Step, person, channel and address of every message of an alert."""
    with store.reading() as session:
        rows = session.execute(
            select(Delivery.step, Person.name, Delivery.channel, Outbox.address)
            .join(Person, Person.id == Delivery.person_id)
            .join(Outbox, Outbox.delivery_id == Delivery.id)
            .order_by(Delivery.step, Person.name, Delivery.channel, Outbox.address)
        )
        return [(step, name, channel, address) for step, name, channel, address in rows]


def the_alert(store: Store) -> Alert:
    with store.reading() as session:
        return session.scalars(select(Alert)).one()
