"""The outbox: what is due, claimed by one hand at a time, and what became of it.

A clock that was too fast leaves times that lie far ahead once it is put back. A lease or a pause that long was
never given, so such a message is due and free at once: a twin may come of it, silence may not.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from sqlalchemy import ColumnElement, and_, func, or_, select, update
from sqlalchemy.orm import Session

from companion.store.models import Alert, AlertTest, Delivery, Membership, Outbox

LEASE = timedelta(minutes=2)
"""How long a claim holds."""
LONGEST_PAUSE = timedelta(minutes=5)
"""No message is put off for longer than this."""
SKEW = timedelta(minutes=2)
"""As far as two workers' clocks may be apart: what lies further ahead was written by a clock put back since."""


class Lane(NamedTuple):
    """Messages that may hold up each other, and no others: those of one channel and one practice."""

    channel: str
    practice_id: str


def _waiting() -> ColumnElement[bool]:
    return and_(Outbox.sent_at.is_(None), Outbox.given_up_at.is_(None))


def _due(now: datetime) -> ColumnElement[bool]:
    """What was never tried is due at once, whichever clock wrote it."""
    return or_(Outbox.attempts == 0, Outbox.due_at <= now, Outbox.due_at > now + LONGEST_PAUSE + SKEW)


def _free(now: datetime) -> ColumnElement[bool]:
    return or_(Outbox.lease_until.is_(None), Outbox.lease_until <= now, Outbox.lease_until > now + LEASE + SKEW)


def any_due(session: Session, now: datetime) -> bool:
    """Say whether there is a message to claim."""
    return session.scalar(select(Outbox.id).where(_waiting(), _due(now), _free(now)).limit(1)) is not None


def due_by_lane(session: Session, now: datetime) -> Mapping[Lane, int]:
    """Return how many messages there are to claim, by lane."""
    waiting = select(Outbox.channel, Outbox.practice_id, func.count()).where(_waiting(), _due(now), _free(now))
    rows = session.execute(waiting.group_by(Outbox.channel, Outbox.practice_id))
    return {Lane(channel, practice_id): num for channel, practice_id, num in rows}


def claim_next(
    session: Session, hand: str, now: datetime, lane: Lane | None = None, besides: Collection[str] = ()
) -> Outbox | None:
    """Claim the least tried message that is due, of one lane or of any, to an address not among ``besides``.

    None where nothing is due or another was faster. PostgreSQL passes over rows that others hold; on SQLite the
    writing session is alone. The update repeats the condition: one row has one claimant even without either.
    """
    query = select(Outbox.id).where(_waiting(), _due(now), _free(now), Outbox.address.not_in(besides))
    if lane is not None:
        query = query.where(Outbox.channel == lane.channel, Outbox.practice_id == lane.practice_id)
    chosen = session.scalar(
        query.order_by(Outbox.attempts, Outbox.due_at, Outbox.id).limit(1).with_for_update(skip_locked=True)
    )
    if chosen is None:
        return None
    return session.scalar(
        update(Outbox)
        .where(Outbox.id == chosen, _waiting(), _free(now))
        .values(lease_by=hand, lease_until=now + LEASE, attempts=Outbox.attempts + 1)
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
    if row.alert_test_id is not None:
        test = session.get_one(AlertTest, row.alert_test_id)
        test.accepted_at, test.failed_at = test.accepted_at or now, None


def put_off(session: Session, outbox_id: str, hand: str, due_at: datetime, reason: str) -> None:
    """Let the message be tried again at ``due_at``, unless another hand has claimed it meanwhile."""
    session.execute(
        update(Outbox)
        .where(Outbox.id == outbox_id, Outbox.lease_by == hand, _waiting())
        .values(due_at=due_at, lease_until=None, lease_by=None, last_error=reason)
    )


def give_up(session: Session, outbox_id: str, now: datetime, reason: str, failed: bool = True) -> None:
    """Stop trying. ``failed`` marks the alert's step as one that did not reach its person by this channel, once
    none of its messages was accepted and none still waits: of a person's several browsers one is enough."""
    row = session.get_one(Outbox, outbox_id)
    if row.sent_at is not None:
        return
    row.given_up_at, row.last_error, row.lease_until, row.lease_by = now, reason, None, None
    session.flush()
    # Whoever writes the outcome holds its row, so that of two that give up at once the second sees the first.
    if failed and row.delivery_id is not None:
        delivery = session.get_one(Delivery, row.delivery_id, with_for_update=True)
        if _all_given_up(session, Outbox.delivery_id == delivery.id):
            delivery.failed_at = now
    if failed and row.alert_test_id is not None:
        test = session.get_one(AlertTest, row.alert_test_id, with_for_update=True)
        if _all_given_up(session, Outbox.alert_test_id == test.id):
            test.failed_at = now


def _all_given_up(session: Session, mine: ColumnElement[bool]) -> bool:
    hopeful = or_(Outbox.sent_at.is_not(None), Outbox.given_up_at.is_(None))
    return session.scalar(select(Outbox.id).where(mine, hopeful).limit(1)) is None


def alert_of(session: Session, row: Outbox) -> Alert | None:
    """Return the alert that a message is a step of."""
    if row.delivery_id is None:
        return None
    return session.scalar(
        select(Alert).join(Delivery, Delivery.alert_id == Alert.id).where(Delivery.id == row.delivery_id)
    )


def has_left(session: Session, row: Outbox) -> bool:
    """Say whether an alert's or a test's message is to somebody who has left the practice since."""
    told: Delivery | AlertTest | None = None
    if row.delivery_id is not None:
        told = session.get(Delivery, row.delivery_id)
    elif row.alert_test_id is not None:
        told = session.get(AlertTest, row.alert_test_id)
    if told is None:
        return False
    works = Membership.person_id == told.person_id, Membership.practice_id == told.practice_id
    stays = select(Membership.person_id).where(*works, Membership.ended_at.is_(None)).limit(1)
    return session.scalar(stays) is None


def stuck(session: Session, before: datetime) -> Sequence[Outbox]:
    """Return messages that were due before ``before`` and are neither sent nor given up."""
    return session.scalars(select(Outbox).where(_waiting(), Outbox.due_at < before).order_by(Outbox.due_at)).all()


def given_up_since(session: Session, since: datetime) -> Sequence[Outbox]:
    """Return messages that were given up since ``since``."""
    return session.scalars(select(Outbox).where(Outbox.given_up_at >= since).order_by(Outbox.given_up_at)).all()
