"""The diary as stored: entries, the judgements of reports, holds, and the cache derived from entries."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, ForeignKeyConstraint, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from companion.store.base import Base, fresh_id


class EntryRow(Base):
    """One immutable entry. The phone made its id; the wearer's sequence number came with its transaction."""

    __tablename__ = "entries"
    __table_args__ = (
        ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),
        UniqueConstraint("wearer_id", "seq"),
        Index("ix_entries_wearer_at", "practice_id", "wearer_id", "at"),
    )

    id: Mapped[str] = mapped_column(primary_key=True)
    practice_id: Mapped[str]
    wearer_id: Mapped[str]
    seq: Mapped[int]
    kind: Mapped[str]
    author_id: Mapped[str | None] = mapped_column(ForeignKey("people.id"))
    at: Mapped[datetime]
    """When the thing happened."""
    zone: Mapped[str]
    """Where: the IANA zone of that place."""
    made_at: Mapped[datetime]
    """When it was tapped, by the phone's clock."""
    received_at: Mapped[datetime]
    payload: Mapped[dict[str, Any]]
    verified: Mapped[bool] = mapped_column(default=True)
    """False: the sender's right had ended or the log-in had expired; kept, and marked at the desk."""


class Report(Base):
    """How a symptom report was judged, and what the family was told at that moment."""

    __tablename__ = "reports"
    __table_args__ = (
        ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),
        ForeignKeyConstraint(["practice_id", "joins_alert_id"], ["alerts.practice_id", "alerts.id"]),
        Index("ix_reports_wearer", "practice_id", "wearer_id", "judged_at"),
        Index("ix_reports_joins_alert", "joins_alert_id"),
    )

    entry_id: Mapped[str] = mapped_column(ForeignKey("entries.id"), primary_key=True)
    practice_id: Mapped[str]
    wearer_id: Mapped[str]
    level: Mapped[int]
    """The verdict's level, or a higher one that the family asked for."""
    right_level: Mapped[int]
    left_level: Mapped[int]
    rules: Mapped[list[Any]]
    deciding: Mapped[list[Any]]
    """Which of the rules made the level what it is."""
    lens: Mapped[dict[str, Any]]
    wear_hold: Mapped[dict[str, Any]]
    advice: Mapped[list[Any]]
    rules_version: Mapped[str]
    judged_at: Mapped[datetime]
    on_duty: Mapped[bool]
    """Whether anyone was on duty when it was judged: what the family's first line said."""
    opens_at: Mapped[datetime | None]
    language: Mapped[str]
    joins_alert_id: Mapped[str | None]
    """The open alert that this one joined instead of raising its own: an unverified sender has one a level."""


class Hold(Base):
    """No lens in this eye until it is lifted."""

    __tablename__ = "holds"
    __table_args__ = (
        ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),
        Index("ix_holds_open", "practice_id", "wearer_id", "lifted_at"),
    )

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str]
    wearer_id: Mapped[str]
    eye: Mapped[str]
    reason: Mapped[str]
    """``report``, ``illness`` (lifts itself after 24 h well) or ``practice``."""
    entry_id: Mapped[str | None] = mapped_column(ForeignKey("entries.id"))
    placed_at: Mapped[datetime]
    well_since: Mapped[datetime | None]
    """An illness hold only: since when the person has been well; 24 h later it holds no more."""
    ends_at: Mapped[datetime | None]
    """When a practitioner has let it end by itself: *lenses out until Thursday*."""
    lifted_at: Mapped[datetime | None]
    lifted_by: Mapped[str | None] = mapped_column(ForeignKey("people.id"))
    lift_reason: Mapped[str | None]
    note: Mapped[str | None]
    """Why the practice placed it."""


class WearerState(Base):
    """A cache for lists, rewritten from the entries: never the truth, always rebuildable."""

    __tablename__ = "wearer_states"
    __table_args__ = (ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),)

    practice_id: Mapped[str] = mapped_column(primary_key=True)
    wearer_id: Mapped[str] = mapped_column(primary_key=True)
    seq: Mapped[int]
    """The entry through which it is up to date."""
    worn: Mapped[int]
    not_worn: Mapped[int]
    unknown: Mapped[int]
    planned: Mapped[int]
    last_entry_at: Mapped[datetime | None]
    forecast: Mapped[dict[str, Any] | None]
    forecast_seq: Mapped[int | None]
    forecast_holds: Mapped[str | None]
    """The eyes that were held when it was made; another set makes it stale at once."""
    forecast_at: Mapped[datetime | None]
    forecast_signed: Mapped[int | None]
    """``Wearer.signed_seq`` when it was made: what was signed since makes it stale."""
    forecast_failed_at: Mapped[datetime | None]
    """When the last try to make it broke; null: it did not."""
    about: Mapped[dict[str, Any] | None]
    """What stands behind the forecast; made with it."""
    curve: Mapped[dict[str, Any] | None] = mapped_column(deferred=True)
    """How sight held and should hold; made with it. Lists have no use for it."""


class FitRow(Base):
    """The last fit of one eye: where its parameters lie, for the next one to start from. A cache as well."""

    __tablename__ = "fits"
    __table_args__ = (ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),)

    practice_id: Mapped[str] = mapped_column(primary_key=True)
    wearer_id: Mapped[str] = mapped_column(primary_key=True)
    eye: Mapped[str] = mapped_column(primary_key=True)
    model: Mapped[str]
    """A fit of another model says nothing to this one."""
    cut_off: Mapped[datetime]
    """What was known at this moment."""
    seq: Mapped[int]
    """The last entry among it."""
    mean: Mapped[list[Any]]
    covariance: Mapped[list[Any]]
    effective: Mapped[float]
    """How many independent draws it is worth."""
    learned: Mapped[float]
    """How far the readings moved it from the population [nats]."""
    fell_back: Mapped[str | None]
    made_at: Mapped[datetime]
