"""Wearers and who looks after them."""

from __future__ import annotations

from datetime import date, datetime, time

from sqlalchemy import ForeignKey, ForeignKeyConstraint, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from companion.store.base import Base, fresh_id


class Wearer(Base):
    """Somebody who sleeps in lenses that this practice fitted. A wearer belongs to one practice."""

    __tablename__ = "wearers"
    __table_args__ = (UniqueConstraint("practice_id", "id"),)

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str] = mapped_column(ForeignKey("practices.id"), index=True)
    person_id: Mapped[str | None] = mapped_column(ForeignKey("people.id"), index=True)
    """The wearer's own log-in: an adult, or an older child."""
    name: Mapped[str]
    mark: Mapped[str] = mapped_column(default="")
    """A small sign that the family picks, to tell children apart at a glance."""
    birth_date: Mapped[date]
    zone: Mapped[str]
    split_hour: Mapped[time] = mapped_column(default=time(12))
    """When one night ends and the next begins; another hour for those who sleep by day."""
    usual_in: Mapped[time] = mapped_column(default=time(21, 30))
    usual_out: Mapped[time] = mapped_column(default=time(6, 30))
    first_night: Mapped[date | None]
    """The evening of the first night with lenses."""
    settled_nights_per_week: Mapped[float | None]
    """Given for a wearer who came to us in mid-course: the habit before the diary begins."""
    diary_since: Mapped[date]
    last_seq: Mapped[int] = mapped_column(default=0)
    """The sequence number last given to an entry of this wearer."""
    created_at: Mapped[datetime]
    ended_at: Mapped[datetime | None]


class Guardianship(Base):
    """An adult who looks after a child. Only the practice ends it."""

    __tablename__ = "guardianships"
    __table_args__ = (ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),)

    practice_id: Mapped[str] = mapped_column(primary_key=True)
    wearer_id: Mapped[str] = mapped_column(primary_key=True)
    person_id: Mapped[str] = mapped_column(ForeignKey("people.id"), primary_key=True, index=True)
    since: Mapped[datetime]
    ended_at: Mapped[datetime | None]
