"""A practice's own gateway, which its manager sets up: an address, and a secret that is shown once."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import InvalidInput, NotFound, Problem
from companion.common.moments import zone
from companion.delivery.outgoing import Outgoing, Refused, check_url
from companion.store.models import Outbox, Person, Webhook
from companion.store.queries.channels import WEBHOOK, webhook_address, webhook_of
from companion.usecases.actor import Actor, practice_for
from companion.usecases.audit import note

TEST = "gateway_test"


def gateway(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """The practice's gateway as its page shows it, without the secret."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    row, me = webhook_of(session, practice.id), session.get_one(Person, actor.person_id)
    there = zone(practice.zone)

    def written(at: datetime | None) -> str | None:
        return at.astimezone(there).isoformat(timespec="minutes") if at else None

    return {
        "gateway": row
        and {
            "url": row.url,
            "took_one_at": written(row.last_accepted_at),
            "failing_since": written(row.failing_since),
        },
        "phone": me.phone,
        "now": written(now),
    }


def set_up(session: Session, actor: Actor, form: Mapping[str, str], limits: Outgoing, now: datetime) -> str:
    """Set the gateway's address and return a new secret, shown once. The secret that was is worth nothing now."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    url = form.get("url", "").strip()
    if not url:
        raise InvalidInput(Problem("missing", "url"))
    try:
        check_url(url, limits)
    except Refused as error:
        raise InvalidInput(Problem("gateway_address", "url")) from error
    row = session.scalar(select(Webhook).where(Webhook.practice_id == practice.id))
    if row is None:
        row = Webhook(practice_id=practice.id)
        session.add(row)
    secret = secrets.token_urlsafe(32)
    row.url, row.secret, row.created_at = url, secret, now
    row.last_accepted_at = row.failing_since = row.ended_at = None
    session.flush()
    note(session, practice.id, actor.person_id, "set", "webhook", row.id, now)
    session.commit()
    return secret


def end(session: Session, actor: Actor, now: datetime) -> None:
    """Use the gateway no more. What it was told stays what it was told."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    row = webhook_of(session, practice.id)
    if row is not None:
        row.ended_at, row.secret = now, ""
        note(session, practice.id, actor.person_id, "end", "webhook", row.id, now)
    session.commit()


def send_test(session: Session, actor: Actor, now: datetime) -> None:
    """Write a test to the gateway, for the phone of whoever asks."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    row = webhook_of(session, practice.id)
    if row is None:
        raise NotFound("webhook")
    person = session.get_one(Person, actor.person_id)
    session.add(
        Outbox(
            practice_id=practice.id,
            channel=WEBHOOK,
            address=webhook_address(row, person.phone),
            message={"key": TEST, "language": person.language, "values": {}},
            created_at=now,
            due_at=now,
        )
    )
    session.commit()
