"""What an open desk asks every few seconds: has anything changed since, and if so, who waits now.

The cursor is a digest of the few rows that the list of alerts is made from, and of the minute: waiting times and
duty move along by themselves, and whatever else the desk shows is never older than a minute.
"""

from __future__ import annotations

from datetime import datetime
from hashlib import blake2b
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.moments import zone
from companion.store.models import Alert, Delivery, Recovery, Report
from companion.store.queries.alerts import open_alerts
from companion.usecases.actor import Actor, practice_for
from companion.usecases.desk import judged, pressing
from companion.usecases.raising import SENT_LEVEL


def cursor(session: Session, actor: Actor, now: datetime) -> str:
    """Return a short word that changes when the desk does."""
    practice = practice_for(session, actor, Action.SEE_DESK)
    is_open = Alert.practice_id == practice.id, Alert.closed_at.is_(None)
    ids = select(Alert.id).where(*is_open)
    asked = Recovery.practice_id == practice.id, Recovery.confirmed_at.is_(None), Recovery.revoked_at.is_(None)
    # Whole rows of alerts and deliveries: whatever becomes of one is in it.
    queries = (
        select(*Alert.__table__.c).where(*is_open).order_by(Alert.id),
        select(*Delivery.__table__.c).where(Delivery.alert_id.in_(ids)).order_by(Delivery.id),
        select(func.count()).where(Report.joins_alert_id.in_(ids)),
        select(Recovery.id).where(*asked).order_by(Recovery.id),
    )
    digest = blake2b(digest_size=12)
    digest.update(f"{actor.person_id} {practice.id} {now.replace(second=0, microsecond=0)}".encode())
    for query in queries:
        digest.update(b"\0" + "\n".join(str(tuple(row)) for row in session.execute(query)).encode())
    return digest.hexdigest()


def clock(session: Session, actor: Actor, now: datetime) -> str:
    """Return the moment as the practice's clocks show it."""
    practice = practice_for(session, actor, Action.SEE_DESK)
    return now.astimezone(zone(practice.zone)).isoformat(timespec="seconds")


def needing(session: Session, actor: Actor, now: datetime) -> list[dict[str, Any]]:
    """The alerts that were sent to people and are open: what is counted, told and sounded of the desk's list."""
    practice = practice_for(session, actor, Action.SEE_DESK)
    return [
        {
            "id": alert.id,
            "level": alert.level,
            "eyes": (alert.raised_as or judged(report))["eyes"],
            "wearer": {"name": wearer.name},
            "taken": alert.taken_at is not None,
            **pressing(alert, practice, now),
        }
        for alert, report, wearer in open_alerts(session, practice)
        if alert.level >= SENT_LEVEL
    ]
