"""Photos of a report and of a wearer, oldest first."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.store.models import Photo, Wearer


def photos_of_report(session: Session, practice_id: str, entry_id: str) -> Sequence[Photo]:
    return session.scalars(
        select(Photo)
        .where(Photo.practice_id == practice_id, Photo.entry_id == entry_id)
        .order_by(Photo.received_at, Photo.id)
    ).all()


def photos_of_wearer(session: Session, wearer: Wearer) -> Sequence[Photo]:
    return session.scalars(
        select(Photo)
        .where(Photo.practice_id == wearer.practice_id, Photo.wearer_id == wearer.id)
        .order_by(Photo.received_at, Photo.id)
    ).all()
