"""The outbox: what is due, claimed by one worker at a time, and what became of it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import ColumnElement, and_, or_, select, update
from sqlalchemy.orm import Session

from companion.store.models import Alert, Delivery, Outbox


def _waiting() -> ColumnElement[bool]:
    return and_(Outbox.sent_at.is_(None), Outbox.given_up_at.is_(None))


def _free(now: datetime) -> ColumnElement[bool]:
    return or_(Outbox.lease_until.is_(None), Outbox.lease_until <= now)


def any_due(session: Session, now: datetime) -> bool:
    """Say whether there is a message to claim."""
    return (
        session.scalar(select(Outbox.id).where(_waiting(), Outbox.due_at <= now, _free(now)).limit(1)) is not None
    )


def claim_next(session: Session, worker: str, now: datetime, lease_until: datetime) -> Outbox | None:
    """Claim the least tried message that is due; None where nothing is due or another worker was faster.

    PostgreSQL passes over rows that others hold; on SQLite the writing session is alone. The update repeats the
    condition, so that one row has one claimant even without either.
    """
    chosen = session.scalar(
        select(Outbox.id)
        .where(_waiting(), Outbox.due_at <= now, _free(now))
        .order_by(Outbox.attempts, Outbox.due_at, Outbox.id)
        .limit(1)
        .with_for_update(skip_locked=True)
    )
    if chosen is None:
        return None
    return session.scalar(
        update(Outbox)
        .where(Outbox.id == chosen, _waiting(), _free(now))
        .values(lease_by=worker, lease_until=lease_until, attempts=Outbox.attempts + 1)
        .returning(Outbox)
        .execution_options(populate_existing=True)
    )


def mark_sent(session: Session, outbox_id: str, now: datetime) -> None:
    """Record that the channel accepted the message. That is a fact, whoever holds the lease by now."""
    row = session.get_one(Outbox, outbox_id)
    row.sent_at = row.sent_at or now
    row.lease_until = row.lease_by = row.last_error = None
    if row.delivery_id is not None:
        delivery = session.get_one(Delivery, row.delivery_id)
        delivery.handed_over_at = delivery.handed_over_at or now
        delivery.failed_at = None


def put_off(session: Session, outbox_id: str, worker: str, due_at: datetime, reason: str) -> None:
    """Let the message be tried again at ``due_at``, unless another worker has claimed it meanwhile."""
    session.execute(
        update(Outbox)
        .where(Outbox.id == outbox_id, Outbox.lease_by == worker, _waiting())
        .values(due_at=due_at, lease_until=None, lease_by=None, last_error=reason)
    )


def give_up(session: Session, outbox_id: str, now: datetime, reason: str, failed: bool = True) -> None:
    """Stop trying. ``failed`` marks the alert's step as one that did not reach its person."""
    row = session.get_one(Outbox, outbox_id)
    if row.sent_at is not None:
        return
    row.given_up_at, row.last_error, row.lease_until, row.lease_by = now, reason, None, None
    if failed and row.delivery_id is not None:
        session.get_one(Delivery, row.delivery_id).failed_at = now


def alert_of(session: Session, row: Outbox) -> Alert | None:
    """Return the alert that a message is a step of."""
    if row.delivery_id is None:
        return None
    return session.scalar(
        select(Alert).join(Delivery, Delivery.alert_id == Alert.id).where(Delivery.id == row.delivery_id)
    )


def stuck(session: Session, before: datetime) -> Sequence[Outbox]:
    """Return messages that were due before ``before`` and are neither sent nor given up."""
    return session.scalars(select(Outbox).where(_waiting(), Outbox.due_at < before).order_by(Outbox.due_at)).all()


def given_up_since(session: Session, since: datetime) -> Sequence[Outbox]:
    """Return messages that were given up since ``since``."""
    return session.scalars(select(Outbox).where(Outbox.given_up_at >= since).order_by(Outbox.given_up_at)).all()
