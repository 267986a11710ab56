"""Who did what: ids and verbs, never what was said."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy.orm import Session

from companion.store.models import AuditEvent


def note(
    session: Session,
    practice_id: str | None,
    actor_id: str | None,
    verb: str,
    object_kind: str,
    object_id: str,
    now: datetime,
) -> None:
    """Add one line to the audit, inside the caller's transaction."""
    session.add(
        AuditEvent(
            practice_id=practice_id,
            actor_id=actor_id,
            verb=verb,
            object_kind=object_kind,
            object_id=object_id,
            at=now,
        )
    )
