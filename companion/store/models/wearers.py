"""Wearers and who looks after them."""

from __future__ import annotations

from datetime import date, datetime, time

from sqlalchemy import ForeignKey, ForeignKeyConstraint, Index, UniqueConstraint
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
    signed_seq: Mapped[int] = mapped_column(default=0, server_default="0")
    """Counts what was signed or set beside the diary: a forecast made before the last of it is stale."""
    handed_over_at: Mapped[datetime | None]
    """Since when a young wearer keeps the diary alone: guardians then see less."""
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


class Handover(Base):
    """An offer to a young wearer to take over the diary; in force when both sides have read who sees what."""

    __tablename__ = "handovers"
    __table_args__ = (ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),)

    practice_id: Mapped[str] = mapped_column(primary_key=True)
    wearer_id: Mapped[str] = mapped_column(primary_key=True)
    offered_at: Mapped[datetime]
    offered_by: Mapped[str] = mapped_column(ForeignKey("people.id"))
    guardian_read_at: Mapped[datetime | None]
    guardian_id: Mapped[str | None] = mapped_column(ForeignKey("people.id"))
    wearer_read_at: Mapped[datetime | None]


class CarerPass(Base):
    """A short way in for somebody who helps for a night or a camp. It lapses; it can be ended before."""

    __tablename__ = "carer_passes"
    __table_args__ = (
        ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),
        Index("ix_carer_passes_wearer", "practice_id", "wearer_id"),
    )

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str]
    wearer_id: Mapped[str]
    person_id: Mapped[str] = mapped_column(ForeignKey("people.id"))
    """The carrier: made with the pass, without a log-in."""
    token_hash: Mapped[str] = mapped_column(unique=True)
    issued_by: Mapped[str] = mapped_column(ForeignKey("people.id"))
    created_at: Mapped[datetime]
    expires_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]
