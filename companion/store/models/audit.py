"""Who did what, and when each periodic job last ran. Ids and verbs only, never payloads."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from companion.store.base import Base, fresh_id


class AuditEvent(Base):
    __tablename__ = "audit_events"
    __table_args__ = (Index("ix_audit_events_practice_at", "practice_id", "at"),)

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str | None] = mapped_column(ForeignKey("practices.id"))
    at: Mapped[datetime]
    actor_id: Mapped[str | None] = mapped_column(ForeignKey("people.id"))
    verb: Mapped[str]
    object_kind: Mapped[str]
    object_id: Mapped[str]


class JobRun(Base):
    """One row a periodic job: its lease, so that a second ticker does nothing, and its heartbeat."""

    __tablename__ = "job_runs"

    name: Mapped[str] = mapped_column(primary_key=True)
    lease_until: Mapped[datetime | None]
    started_at: Mapped[datetime | None]
    finished_at: Mapped[datetime | None]
    last_error: Mapped[str | None]
