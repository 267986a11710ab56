"""Alerts, how each was carried, and the outbox that carries them."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import ForeignKey, ForeignKeyConstraint, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from companion.store.base import Base, fresh_id


class Alert(Base):
    """A promise: written with the report that raised it, carried until a person has taken it."""

    __tablename__ = "alerts"
    __table_args__ = (
        UniqueConstraint("practice_id", "id"),
        ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),
        Index("ix_alerts_open", "practice_id", "closed_at", "level"),
    )

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str]
    wearer_id: Mapped[str]
    entry_id: Mapped[str] = mapped_column(ForeignKey("entries.id"), unique=True)
    level: Mapped[int]
    """As judged, or as time has raised it since."""
    raised_at: Mapped[datetime]
    raised_again_at: Mapped[datetime | None]
    """When time last raised the level."""
    raised_as: Mapped[dict[str, Any] | None]
    """What the report counts as by then, shaped as a judged report; the report's own row stays as judged."""
    no_word_at: Mapped[datetime | None]
    """When a re-check was found missed."""
    taken_at: Mapped[datetime | None]
    taken_by: Mapped[str | None] = mapped_column(ForeignKey("people.id"))
    contact_at: Mapped[datetime | None]
    contact_by: Mapped[str | None] = mapped_column(ForeignKey("people.id"))
    contact_note: Mapped[str | None]
    called_said: Mapped[str | None]
    """What the family said when asked whether somebody has called: ``yes`` or ``no``."""
    called_said_at: Mapped[datetime | None]
    family_told: Mapped[dict[str, Any]] = mapped_column(default=dict, server_default="{}")
    """Which news was sent to the family, each once, and when: ``{"nobody_took_it": "2026-11-02T21:00+00:00"}``."""
    closed_at: Mapped[datetime | None]
    closed_by: Mapped[str | None] = mapped_column(ForeignKey("people.id"))
    outcome: Mapped[str | None]
    outcome_note: Mapped[str | None]
    lenses_out_until: Mapped[date | None]


class Delivery(Base):
    """One step of an alert to one person by one channel."""

    __tablename__ = "deliveries"
    __table_args__ = (
        ForeignKeyConstraint(["practice_id", "alert_id"], ["alerts.practice_id", "alerts.id"]),
        UniqueConstraint("alert_id", "step", "person_id", "channel"),
    )

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str]
    alert_id: Mapped[str]
    step: Mapped[int]
    person_id: Mapped[str] = mapped_column(ForeignKey("people.id"))
    channel: Mapped[str]
    queued_at: Mapped[datetime]
    handed_over_at: Mapped[datetime | None]
    delivered_at: Mapped[datetime | None]
    failed_at: Mapped[datetime | None]


class AlertTest(Base):
    """A test message to one person by one way. Accepted is the channel's word, answered a person's."""

    __tablename__ = "alert_tests"
    __table_args__ = (Index("ix_alert_tests_practice", "practice_id", "sent_at"),)

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str] = mapped_column(ForeignKey("practices.id"))
    person_id: Mapped[str] = mapped_column(ForeignKey("people.id"))
    channel: Mapped[str]
    sent_at: Mapped[datetime]
    accepted_at: Mapped[datetime | None]
    failed_at: Mapped[datetime | None]
    answered_at: Mapped[datetime | None]
    answered_by: Mapped[str | None] = mapped_column(ForeignKey("people.id"))


class Outbox(Base):
    """A message to be carried. Claimed by a lease, sent outside any transaction, then marked."""

    __tablename__ = "outbox"
    __table_args__ = (
        Index(
            "ix_outbox_due",
            "due_at",
            sqlite_where=text("sent_at IS NULL AND given_up_at IS NULL"),
            postgresql_where=text("sent_at IS NULL AND given_up_at IS NULL"),
        ),
    )

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str] = mapped_column(ForeignKey("practices.id"))
    delivery_id: Mapped[str | None] = mapped_column(ForeignKey("deliveries.id"), index=True)
    alert_test_id: Mapped[str | None]
    """The test alert that this message carries. No foreign key: SQLite would have to copy the table for it."""
    channel: Mapped[str]
    address: Mapped[str]
    message: Mapped[dict[str, Any]]
    """``{"key": ..., "language": ..., "values": {...}}``: words are found when it is sent; no name, no symptom."""
    created_at: Mapped[datetime]
    due_at: Mapped[datetime]
    attempts: Mapped[int] = mapped_column(default=0)
    lease_until: Mapped[datetime | None]
    lease_by: Mapped[str | None]
    sent_at: Mapped[datetime | None]
    given_up_at: Mapped[datetime | None]
    last_error: Mapped[str | None]
