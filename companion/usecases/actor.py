"""Who is acting, and the only way to a wearer."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.access import Action, Role, may
from companion.common.errors import NotAllowed, NotFound
from companion.common.ids import is_id
from companion.store.models import Guardianship, Membership, Person, Practice, Wearer


@dataclass(frozen=True)
class Actor:
    """A signed-in person. ``practice_id`` and ``roles`` are their work place and staff roles, if any."""

    person_id: str
    name: str
    language: str
    theme: str
    practice_id: str | None
    roles: frozenset[Role]
    sign_in_id: str


def actor_of(session: Session, person: Person, sign_in_id: str) -> Actor:
    """Gather a person's staff roles. Somebody who works at several practices acts at the one joined first."""
    rows = session.scalars(
        select(Membership)
        .where(Membership.person_id == person.id, Membership.ended_at.is_(None))
        .order_by(Membership.since, Membership.practice_id)
    ).all()
    practice_id = rows[0].practice_id if rows else None
    roles = frozenset(Role(row.role) for row in rows if row.practice_id == practice_id)
    return Actor(person.id, person.name, person.language, person.theme, practice_id, roles, sign_in_id)


def roles_towards(session: Session, actor: Actor, wearer: Wearer) -> frozenset[Role]:
    """Every role that the actor has towards this wearer; empty for a stranger."""
    roles = set(actor.roles) if actor.practice_id == wearer.practice_id else set()
    if wearer.person_id == actor.person_id:
        roles.add(Role.WEARER)
    guards = session.scalar(
        select(Guardianship.person_id).where(
            Guardianship.practice_id == wearer.practice_id,
            Guardianship.wearer_id == wearer.id,
            Guardianship.person_id == actor.person_id,
            Guardianship.ended_at.is_(None),
        )
    )
    if guards:
        roles.add(Role.GUARDIAN)
    return frozenset(roles)


def wearer_for(session: Session, actor: Actor, wearer_id: str, action: Action) -> Wearer:
    """Load a wearer for an action. NotFound for a stranger, NotAllowed for somebody with a lesser right."""
    wearer = session.get(Wearer, wearer_id) if is_id(wearer_id) else None
    roles = roles_towards(session, actor, wearer) if wearer else frozenset()
    if wearer is None or not roles or wearer.ended_at is not None:
        raise NotFound("wearer")
    if not may(roles, action):
        raise NotAllowed(action)
    return wearer


def practice_for(session: Session, actor: Actor, action: Action) -> Practice:
    """Load the practice that the actor works at, for an action there."""
    if actor.practice_id is None:
        raise NotAllowed(action)
    if not may(actor.roles, action):
        raise NotAllowed(action)
    return session.get_one(Practice, actor.practice_id)
