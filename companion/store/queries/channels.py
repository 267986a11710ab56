"""Channels beside mail: which browsers take a person's pushes, which gateway a practice has, and how they fare.

What an outbox row says of where it goes, by its channel:

- ``push``: the address is the id of one subscription.
- ``webhook``: the address is ``"<webhook id> <phone>"``, the phone (E.164) being whom the gateway shall reach; for
  somebody without a number it is the webhook's id alone. ``webhook_address`` writes it, ``read_webhook_address``
  reads it.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session, aliased

from companion.store.models import PushSubscription, SignIn, Webhook

PUSH, WEBHOOK = "push", "webhook"


def subscriptions_of(session: Session, person_id: str) -> Sequence[PushSubscription]:
    """Return the browsers that take this person's pushes, oldest first."""
    return session.scalars(
        select(PushSubscription)
        .where(PushSubscription.person_id == person_id, _good())
        .order_by(PushSubscription.created_at, PushSubscription.id)
    ).all()


def subscription(session: Session, subscription_id: str) -> PushSubscription | None:
    """Return a browser that takes pushes; None if there is none of that id, or it takes them no more."""
    return session.scalar(select(PushSubscription).where(PushSubscription.id == subscription_id, _good()))


def webhook_of(session: Session, practice_id: str) -> Webhook | None:
    """Return the gateway of a practice, if it has one."""
    return session.scalar(select(Webhook).where(Webhook.practice_id == practice_id, Webhook.ended_at.is_(None)))


def webhook(session: Session, webhook_id: str) -> Webhook | None:
    """Return a gateway in use; None if there is none of that id, or it is used no more."""
    return session.scalar(select(Webhook).where(Webhook.id == webhook_id, Webhook.ended_at.is_(None)))


def webhook_address(row: Webhook, phone: str | None) -> str:
    """Return the address of an outbox row that asks a gateway to reach somebody."""
    return f"{row.id} {phone}" if phone else row.id


def read_webhook_address(address: str) -> tuple[str, str | None]:
    """Return the webhook's id, and the phone that it shall reach."""
    webhook_id, _, phone = address.partition(" ")
    return webhook_id, phone or None


def note_accepted(session: Session, channel: str, address: str, now: datetime) -> None:
    """Record that a channel took a message."""
    row = _behind(session, channel, address)
    if row is not None:
        row.last_accepted_at, row.failing_since = now, None


def note_refused(session: Session, channel: str, address: str, now: datetime, final: bool) -> None:
    """Record that a channel took none. A browser that says so for good takes none ever again; a gateway that does
    speaks of one phone, and works."""
    row = _behind(session, channel, address)
    if row is None:
        return
    if not final or isinstance(row, PushSubscription):
        row.failing_since = row.failing_since or now
    if final and isinstance(row, PushSubscription):
        row.ended_at = row.ended_at or now


def failing(session: Session) -> tuple[Sequence[PushSubscription], Sequence[Webhook]]:
    """Return what is in use and has taken nothing lately."""
    browsers = select(PushSubscription).where(PushSubscription.failing_since.is_not(None), _good())
    gateways = select(Webhook).where(Webhook.failing_since.is_not(None), Webhook.ended_at.is_(None))
    return session.scalars(browsers).all(), session.scalars(gateways).all()


def gone(session: Session, since: datetime, person_id: str | None = None) -> Sequence[PushSubscription]:
    """Return browsers that have said since ``since`` that they take nothing ever again, the newest first.

    Their owners did not switch them off, nor on again since, and may still count on them.
    """
    again = aliased(PushSubscription)
    on_again = select(again.id).where(again.sign_in_id == PushSubscription.sign_in_id, again.ended_at.is_(None))
    lost = select(PushSubscription).where(
        PushSubscription.ended_at >= since,
        PushSubscription.failing_since.is_not(None),
        _signed_in(),
        ~on_again.exists(),
    )
    if person_id is not None:
        lost = lost.where(PushSubscription.person_id == person_id)
    return session.scalars(lost.order_by(PushSubscription.ended_at.desc(), PushSubscription.id)).all()


def _good() -> ColumnElement[bool]:
    return PushSubscription.ended_at.is_(None) & _signed_in()


def _signed_in() -> ColumnElement[bool]:
    return select(SignIn.id).where(SignIn.id == PushSubscription.sign_in_id, SignIn.ended_at.is_(None)).exists()


def _behind(session: Session, channel: str, address: str) -> PushSubscription | Webhook | None:
    if channel == PUSH:
        return session.get(PushSubscription, address)
    return session.get(Webhook, read_webhook_address(address)[0]) if channel == WEBHOOK else None
