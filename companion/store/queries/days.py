"""A wearer's days that matter. They never commit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.store.models import DayThatMatters, Wearer


def days_of(session: Session, wearer: Wearer, since: date | None = None) -> Sequence[DayThatMatters]:
    """Return the days that stand, from ``since`` on, in order."""
    query = select(DayThatMatters).where(
        DayThatMatters.practice_id == wearer.practice_id,
        DayThatMatters.wearer_id == wearer.id,
        DayThatMatters.removed_at.is_(None),
    )
    if since is not None:
        query = query.where(DayThatMatters.day >= since)
    return session.scalars(query.order_by(DayThatMatters.day, DayThatMatters.starts, DayThatMatters.id)).all()
