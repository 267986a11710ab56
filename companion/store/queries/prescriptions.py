"""What is signed for a wearer, newest first. They never commit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.store.models import ClearanceRow, Lens, Plan, Refraction, Visit, Wearer


def plans_of(session: Session, wearer: Wearer) -> Sequence[Plan]:
    """Return the wearer's plans, the one signed last first."""
    return session.scalars(
        select(Plan)
        .where(Plan.practice_id == wearer.practice_id, Plan.wearer_id == wearer.id)
        .order_by(Plan.since.desc(), Plan.signed_at.desc())
    ).all()


def clearance_of(session: Session, wearer: Wearer) -> ClearanceRow | None:
    return session.scalar(
        select(ClearanceRow)
        .where(ClearanceRow.practice_id == wearer.practice_id, ClearanceRow.wearer_id == wearer.id)
        .order_by(ClearanceRow.signed_at.desc())
        .limit(1)
    )


def refractions_of(session: Session, wearer: Wearer) -> Sequence[Refraction]:
    return session.scalars(
        select(Refraction)
        .where(Refraction.practice_id == wearer.practice_id, Refraction.wearer_id == wearer.id)
        .order_by(Refraction.measured_at.desc(), Refraction.id)
    ).all()


def lenses_of(session: Session, wearer: Wearer) -> Sequence[Lens]:
    return session.scalars(
        select(Lens)
        .where(Lens.practice_id == wearer.practice_id, Lens.wearer_id == wearer.id)
        .order_by(Lens.since.desc(), Lens.signed_at.desc())
    ).all()


def visits_of(session: Session, wearer: Wearer) -> Sequence[Visit]:
    return session.scalars(
        select(Visit)
        .where(Visit.practice_id == wearer.practice_id, Visit.wearer_id == wearer.id)
        .order_by(Visit.due_on)
    ).all()


def is_visit_overdue(session: Session, wearer: Wearer, today: date, days: int) -> bool:
    """Say whether a visit that did not take place was due more than ``days`` days ago."""
    return (
        session.scalar(
            select(Visit.id)
            .where(
                Visit.practice_id == wearer.practice_id,
                Visit.wearer_id == wearer.id,
                Visit.done_on.is_(None),
                Visit.due_on < today - timedelta(days=days),
            )
            .limit(1)
        )
        is not None
    )
