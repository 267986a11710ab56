"""Photos of an eye, sent after a report: rows like all else, so that backup, erasure and rights stay one thing."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, ForeignKeyConstraint, Index
from sqlalchemy.orm import Mapped, mapped_column

from companion.store.base import Base


class Photo(Base):
    __tablename__ = "photos"
    __table_args__ = (
        ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),
        Index("ix_photos_entry", "practice_id", "entry_id"),
        Index("ix_photos_wearer", "practice_id", "wearer_id"),
    )

    id: Mapped[str] = mapped_column(primary_key=True)
    """Made with the form, so that one sent twice is one."""
    practice_id: Mapped[str]
    wearer_id: Mapped[str]
    entry_id: Mapped[str] = mapped_column(ForeignKey("entries.id"))
    """The report that it belongs to."""
    author_id: Mapped[str] = mapped_column(ForeignKey("people.id"))
    eye: Mapped[str]
    received_at: Mapped[datetime]
    width: Mapped[int]
    height: Mapped[int]
    jpeg: Mapped[bytes] = mapped_column(deferred=True)
    """As the server made it anew; lists have no use for it."""
