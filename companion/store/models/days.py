"""Days that a family names because sight must hold on them."""

from __future__ import annotations

from datetime import date, datetime, time

from sqlalchemy import ForeignKey, ForeignKeyConstraint, Index
from sqlalchemy.orm import Mapped, mapped_column

from companion.store.base import Base, fresh_id


class DayThatMatters(Base):
    """One such day, by the clock on the wall in ``zone``. An end no later than the start is the next day's."""

    __tablename__ = "days_that_matter"
    __table_args__ = (
        ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),
        Index("ix_days_that_matter_wearer", "practice_id", "wearer_id", "day"),
    )

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    """Minted with the form, so that a form sent twice names one day."""
    practice_id: Mapped[str]
    wearer_id: Mapped[str]
    day: Mapped[date]
    starts: Mapped[time]
    ends: Mapped[time]
    zone: Mapped[str]
    label: Mapped[str]
    """What the family calls it; gone once it is removed."""
    driving: Mapped[bool]
    added_by: Mapped[str] = mapped_column(ForeignKey("people.id"))
    added_at: Mapped[datetime]
    removed_by: Mapped[str | None] = mapped_column(ForeignKey("people.id"))
    removed_at: Mapped[datetime | None]
