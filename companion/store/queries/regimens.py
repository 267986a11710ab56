"""What a practice signed about lens care, the newest first. They never commit."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.store.models import CareRegimen


def regimen_of(session: Session, practice_id: str) -> CareRegimen | None:
    """Return what the practice signed last, if it signed anything."""
    return session.scalar(
        select(CareRegimen)
        .where(CareRegimen.practice_id == practice_id)
        .order_by(CareRegimen.signed_at.desc(), CareRegimen.id)
        .limit(1)
    )
