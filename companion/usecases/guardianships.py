"""Ending a guardianship: the practice's deed alone, since two homes may not agree on it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import InvalidInput, NotFound, Problem
from companion.common.ids import is_id
from companion.store.models import CarerPass, DeviceKey, Guardianship, Person, Recovery, Wearer
from companion.usecases import device_keys
from companion.usecases.actor import Actor, wearer_for
from companion.usecases.audit import note
from companion.usecases.showing import is_minor, wearer_plain


def guardianship(session: Session, actor: Actor, wearer_id: str, person_id: str, now: datetime) -> dict[str, Any]:
    """Show whose guardianship is about to end, and whether it may."""
    wearer = wearer_for(session, actor, wearer_id, Action.ENROL)
    row = _active(session, wearer, person_id)
    return {
        "wearer": wearer_plain(wearer, now),
        "person": {"id": row.person_id, "name": session.get_one(Person, row.person_id).name},
        "needed": _needed(session, wearer, row, now),
    }


def end_guardianship(session: Session, actor: Actor, wearer_id: str, person_id: str, now: datetime) -> None:
    """End it from now on, and with it the passes that this guardian gave, the ways back in that they began and
    the keys of their phones. Who looks after another wearer gets a new key at the next sync.

    A minor who signs in alone always keeps one guardian: otherwise nobody at home would hear of their reports.
    """
    wearer = wearer_for(session, actor, wearer_id, Action.ENROL)
    row = _active(session, wearer, person_id)
    if _needed(session, wearer, row, now):
        raise InvalidInput(Problem("guardian_needed", "person_id"))
    row.ended_at = now
    session.execute(
        update(CarerPass)
        .where(
            CarerPass.practice_id == wearer.practice_id,
            CarerPass.wearer_id == wearer.id,
            CarerPass.issued_by == row.person_id,
            CarerPass.revoked_at.is_(None),
        )
        .values(revoked_at=now)
    )
    session.execute(
        update(Recovery)
        .where(
            Recovery.practice_id == wearer.practice_id,
            Recovery.started_by == row.person_id,
            Recovery.used_at.is_(None),
            Recovery.revoked_at.is_(None),
        )
        .values(revoked_at=now)
    )
    device_keys.end(session, now, DeviceKey.person_id == row.person_id)
    note(session, wearer.practice_id, actor.person_id, "end_guardianship", "person", row.person_id, now)
    session.commit()


def guardians_of(session: Session, wearer: Wearer) -> list[Person]:
    """Everybody who looks after the wearer today, in the order in which they joined."""
    return list(
        session.scalars(
            select(Person)
            .join(Guardianship, Guardianship.person_id == Person.id)
            .where(
                Guardianship.practice_id == wearer.practice_id,
                Guardianship.wearer_id == wearer.id,
                Guardianship.ended_at.is_(None),
            )
            .order_by(Guardianship.since, Person.id)
        )
    )


def _active(session: Session, wearer: Wearer, person_id: str) -> Guardianship:
    row = session.get(Guardianship, (wearer.practice_id, wearer.id, person_id)) if is_id(person_id) else None
    if row is None or row.ended_at is not None:
        raise NotFound("guardianship")
    return row


def _needed(session: Session, wearer: Wearer, row: Guardianship, now: datetime) -> bool:
    others = [one for one in guardians_of(session, wearer) if one.id != row.person_id]
    return not others and wearer.person_id is not None and is_minor(wearer, now)
