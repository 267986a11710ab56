"""A practice: the tenant. Every row that it owns carries its id in a composite foreign key."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, Index, true
from sqlalchemy.orm import Mapped, mapped_column

from companion.store.base import Base, fresh_id


class Practice(Base):
    __tablename__ = "practices"

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    name: Mapped[str]
    zone: Mapped[str]
    """IANA name; opening hours are on this clock."""
    country: Mapped[str]
    """ISO 3166 code of the place whose emergency number is offered first."""
    phone: Mapped[str]
    opening_hours: Mapped[dict[str, Any]]
    """``{"mon": [["08:30", "18:00"]], ...}``; a day left out is closed."""
    closed_days: Mapped[list[Any]] = mapped_column(default=list)
    one_eye_holds_both: Mapped[bool] = mapped_column(default=True)
    illness_holds: Mapped[bool] = mapped_column(default=True)
    alert_plan: Mapped[list[Any]] = mapped_column(default=list)
    """Who is told first, in order, then the other staff: ``[{"person_id": ..., "channel": "any", "when":
    "always"}]``. The channel is ``any`` or one of an outbox row, ``when`` is one of ``companion.escalation``'s
    ``When``. A row of an earlier release has no ``when``: always, and by every way."""
    on_call_hours: Mapped[dict[str, Any]] = mapped_column(default=dict, server_default="{}")
    """As ``opening_hours``: when somebody of the plan can be reached though the practice is shut."""
    climb_minutes: Mapped[dict[str, Any]] = mapped_column(default=dict, server_default="{}")
    """Minutes to each further step, by level: ``{"5": [5, 10]}``; a level left out climbs as is usual."""
    alerts_on: Mapped[bool] = mapped_column(default=True, server_default=true())
    """False: reports stand at the desk, nothing is sent, and every family is told that nobody was."""
    triage_on: Mapped[bool] = mapped_column(default=True, server_default=true())
    """False: one fixed page of warning signs and numbers stands where the questions would."""
    contact_minutes: Mapped[int] = mapped_column(default=60)
    """How long after *taken* the family must have been reached before the alert climbs again."""
    handover_age: Mapped[int] = mapped_column(default=16, server_default="16")
    """From this age on the practice may offer a young wearer to take over their own diary [years]."""
    created_at: Mapped[datetime]


class CareRegimen(Base):
    """The care system and the schedule that a practice signed for its families; the newest row counts."""

    __tablename__ = "care_regimens"
    __table_args__ = (Index("ix_care_regimens_practice", "practice_id", "signed_at"),)

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str] = mapped_column(ForeignKey("practices.id"))
    system: Mapped[str]
    """A system of ``companion.regimen.care``."""
    numbers: Mapped[dict[str, Any]]
    """Days and hours by id, within the bounds of the day of signing; null: done without."""
    signed_by: Mapped[str] = mapped_column(ForeignKey("people.id"))
    signed_at: Mapped[datetime]


class PracticeLanguage(Base):
    """A practice's word on the safety text in one language; of a text version the newest row counts."""

    __tablename__ = "practice_languages"
    __table_args__ = (Index("ix_practice_languages_practice", "practice_id", "language", "signed_at"),)

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str] = mapped_column(ForeignKey("practices.id"))
    language: Mapped[str]
    """BCP 47."""
    text_version: Mapped[str]
    """The text that was read; a newer one is locked until it is read again."""
    open: Mapped[bool]
    """False: locked again."""
    reviewer: Mapped[str]
    """Who has read it, as the manager typed it."""
    reviewer_role: Mapped[str]
    signed_by: Mapped[str] = mapped_column(ForeignKey("people.id"))
    signed_at: Mapped[datetime]
