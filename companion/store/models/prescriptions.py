"""What the practice has signed for a wearer. A change starts a new row; nothing is overwritten."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

from sqlalchemy import ForeignKey, ForeignKeyConstraint, Index
from sqlalchemy.orm import Mapped, declared_attr, mapped_column

from companion.store.base import Base, fresh_id


class _Signed:
    """A row about a wearer, signed by a member of staff."""

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str]
    wearer_id: Mapped[str]
    signed_at: Mapped[datetime]

    @declared_attr
    def signed_by(cls) -> Mapped[str]:
        return mapped_column(ForeignKey("people.id"))

    @declared_attr.directive
    def __table_args__(cls) -> tuple[Any, ...]:
        return (
            ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),
            Index(f"ix_{cls.__tablename__}_wearer", "practice_id", "wearer_id"),  # type: ignore[attr-defined]
        )


class Plan(_Signed, Base):
    """Which nights the lenses go in, and what sight has to hold until when."""

    __tablename__ = "plans"

    since: Mapped[date]
    every: Mapped[int | None]
    """Every n-th night from ``since``; null where ``weekdays`` rule."""
    weekdays: Mapped[list[Any] | None]
    target_acuity_logmar: Mapped[float]
    target_until: Mapped[time]
    target_eyes: Mapped[str] = mapped_column(default="each")
    target_distance_m: Mapped[float | None]
    """Null: far. Near for somebody who reads by the lens."""


class ClearanceRow(_Signed, Base):
    """Whether a night may be skipped on the forecast's word; the newest row counts."""

    __tablename__ = "clearances"

    may_skip: Mapped[bool]
    longest_gap_nights: Mapped[int] = mapped_column(default=1)
    until: Mapped[date | None]


class Refraction(_Signed, Base):
    """One eye's refraction at the spectacle plane. The spherical equivalent is derived, never stored."""

    __tablename__ = "refractions"

    eye: Mapped[str]
    kind: Mapped[str]
    """``baseline``: before treatment. ``residual``: under treatment."""
    measured_at: Mapped[datetime]
    sphere_d: Mapped[float]
    cylinder_d: Mapped[float] = mapped_column(default=0.0)
    axis_deg: Mapped[int | None]
    best_acuity_logmar: Mapped[float | None]


class Lens(_Signed, Base):
    """One eye's lens, as ordered. ``aim_d`` is the residual it is fitted for on a settled morning."""

    __tablename__ = "lenses"

    eye: Mapped[str]
    since: Mapped[date]
    marked_as: Mapped[str]
    """How this lens is told from the other: what the practice has it marked with."""
    base_curve_mm: Mapped[float | None]
    diameter_mm: Mapped[float | None]
    aim_d: Mapped[float]


class Visit(_Signed, Base):
    """A visit that is due, and whether it took place."""

    __tablename__ = "visits"

    due_on: Mapped[date]
    kind: Mapped[str]
    done_on: Mapped[date | None]
