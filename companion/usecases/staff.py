"""Who works at a practice, as its manager sees it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from companion.access import Action, Role
from companion.common.errors import InvalidInput, NotFound, Problem
from companion.common.moments import zone
from companion.store.models import Alert, Invitation, Membership, Person
from companion.usecases.actor import Actor, practice_for
from companion.usecases.audit import note
from companion.usecases.invitations import state_of
from companion.usecases.reaching import staff_of, ways_to_reach
from companion.usecases.showing import iso


def staff(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """Everybody who works here with their roles, and the invitations that were not used yet."""
    practice = practice_for(session, actor, Action.MANAGE_STAFF)
    where = zone(practice.zone)
    people: dict[str, dict[str, Any]] = {}
    for membership, person in session.execute(
        select(Membership, Person)
        .join(Person, Person.id == Membership.person_id)
        .where(Membership.practice_id == practice.id, Membership.ended_at.is_(None))
        .order_by(Membership.since, Person.id)
    ):
        one = people.setdefault(
            person.id,
            {
                "id": person.id,
                "name": person.name,
                "can_be_told": bool(ways_to_reach(session, practice, person)),
                "me": person.id == actor.person_id,
                "roles": [],
            },
        )
        one["roles"].append(membership.role)
    invitations = session.scalars(
        select(Invitation)
        .where(Invitation.practice_id == practice.id, Invitation.wearer_id.is_(None))
        .order_by(Invitation.created_at.desc(), Invitation.id)
    )
    return {
        "practice": {"id": practice.id, "name": practice.name},
        "people": list(people.values()),
        "invitations": [
            {
                "id": row.id,
                "kind": row.kind,
                "name": row.name,
                "state": state_of(row, now),
                "expires_at": iso(row.expires_at, where),
            }
            for row in invitations
            if row.used_at is None and row.revoked_at is None
        ],
    }


def end_membership(session: Session, actor: Actor, person_id: str, role: str, now: datetime) -> None:
    """End one role of one person here. The last manager stays: nobody else could invite the next."""
    practice = practice_for(session, actor, Action.MANAGE_STAFF)
    row = session.get(Membership, (practice.id, person_id, role))
    if row is None or row.ended_at is not None:
        raise NotFound("membership")
    managers = session.scalars(
        select(Membership.person_id).where(
            Membership.practice_id == practice.id,
            Membership.role == Role.MANAGER.value,
            Membership.ended_at.is_(None),
        )
    ).all()
    if role == Role.MANAGER and len(managers) == 1:
        raise InvalidInput(Problem("last_manager", "role"))
    row.ended_at = now
    session.flush()
    if person_id not in {one.id for one in staff_of(session, practice)}:
        # What somebody took who is gone is in nobody's hands: it climbs again at once.
        session.execute(
            update(Alert)
            .where(
                Alert.practice_id == practice.id,
                Alert.taken_by == person_id,
                Alert.contact_at.is_(None),
                Alert.closed_at.is_(None),
            )
            .values(taken_at=None, taken_by=None)
        )
    note(session, practice.id, actor.person_id, "end_membership", "person", person_id, now)
    session.commit()
