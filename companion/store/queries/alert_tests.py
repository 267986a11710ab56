"""Test alerts of a practice."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from companion.store.models import AlertTest


def tests_of(session: Session, practice_id: str, since: datetime) -> Sequence[AlertTest]:
    """Return the tests that a practice has sent since then, oldest first."""
    return session.scalars(
        select(AlertTest)
        .where(AlertTest.practice_id == practice_id, AlertTest.sent_at >= since)
        .order_by(AlertTest.sent_at, AlertTest.id)
    ).all()


def newest_test(session: Session, practice_id: str) -> datetime | None:
    """Return when a practice last sent a test."""
    return session.scalar(select(func.max(AlertTest.sent_at)).where(AlertTest.practice_id == practice_id))
