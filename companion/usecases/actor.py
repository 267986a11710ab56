"""Who is acting, and the only way to a wearer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.access import Action, Role, may
from companion.common.errors import NotAllowed, NotFound
from companion.common.ids import is_id
from companion.store.models import (
    Alert,
    AlertTest,
    CarerPass,
    Guardianship,
    Hold,
    Membership,
    Person,
    Practice,
    Wearer,
)

FORMER_FOR = timedelta(days=30)
"""So long after a right has ended a report still reaches the desk, unverified: a page may have been open, a phone
without a network (design)."""


@dataclass(frozen=True)
class Actor:
    """A signed-in person. ``practice_id`` and ``roles`` are the work place whose desk they see and their staff
    roles there, if any; ``works_at`` has the roles at each of their work places.

    ``carries`` is the wearer whose pass opened this sign-in, while it is good; ``pass_id`` names it even after.
    """

    person_id: str
    name: str
    language: str
    theme: str
    practice_id: str | None
    roles: frozenset[Role]
    sign_in_id: str
    hour_cycle: str = "usual"
    digits: str = "usual"
    text_size: str = "usual"
    pass_id: str | None = None
    carries: str | None = None
    works_at: Mapping[str, frozenset[Role]] = field(default_factory=dict, hash=False)
    expired: bool = False
    """The sign-in is over: worth an unverified report and nothing else."""


def actor_of(session: Session, person: Person, sign_in_id: str) -> Actor:
    """Gather a person's staff roles. Somebody who works at several practices sees the desk of the one joined
    first until they change over, and opens what belongs to any of them."""
    rows = session.scalars(
        select(Membership)
        .where(Membership.person_id == person.id, Membership.ended_at.is_(None))
        .order_by(Membership.since, Membership.practice_id)
    ).all()
    works_at: dict[str, frozenset[Role]] = {}
    for row in rows:
        works_at[row.practice_id] = works_at.get(row.practice_id, frozenset()) | {Role(row.role)}
    first, roles = next(iter(works_at.items()), (None, frozenset()))
    return Actor(practice_id=first, roles=roles, sign_in_id=sign_in_id, works_at=works_at, **_own(person))


def at_practice(actor: Actor, practice_id: str | None) -> Actor:
    """Return the same person at the desk of another of their practices; unchanged where they do not work."""
    if practice_id is None or practice_id not in actor.works_at:
        return actor
    return replace(actor, practice_id=practice_id, roles=actor.works_at[practice_id])


def carrier_of(person: Person, sign_in_id: str, row: CarerPass, now: datetime) -> Actor:
    """Gather who signed in by a pass. They are nothing but its carrier, and less once it has lapsed."""
    carries = row.wearer_id if is_good(row, now) else None
    return Actor(
        practice_id=None, roles=frozenset(), sign_in_id=sign_in_id, pass_id=row.id, carries=carries, **_own(person)
    )


def _own(person: Person) -> dict[str, Any]:
    return {
        "person_id": person.id,
        "name": person.name,
        "language": person.language,
        "theme": person.theme,
        "hour_cycle": person.hour_cycle,
        "digits": person.digits,
        "text_size": person.text_size,
    }


def is_good(row: CarerPass, now: datetime) -> bool:
    """Say whether a pass still opens something."""
    return row.revoked_at is None and now < row.expires_at


def roles_towards(session: Session, actor: Actor, wearer: Wearer) -> frozenset[Role]:
    """Every role that the actor has towards this wearer; empty for a stranger."""
    if actor.expired:
        return frozenset()
    if actor.pass_id is not None:
        return frozenset({Role.CARER} if actor.carries == wearer.id else ())
    roles = set(roles_at(actor, wearer.practice_id))
    if wearer.person_id == actor.person_id:
        roles.add(Role.WEARER)
    guards = _guardianship(session, actor, wearer)
    if guards is not None and guards.ended_at is None:
        roles.add(Role.GUARDIAN if wearer.handed_over_at is None else Role.WATCHING)
    return frozenset(roles)


def has_known(session: Session, actor: Actor, wearer: Wearer) -> bool:
    """Say whether the actor has, or ever had, a right of their own towards this wearer."""
    if actor.pass_id is not None:
        return session.get_one(CarerPass, actor.pass_id).wearer_id == wearer.id
    return _guardianship(session, actor, wearer) is not None or wearer.person_id == actor.person_id


def former_roles_towards(session: Session, actor: Actor, wearer: Wearer, now: datetime) -> frozenset[Role]:
    """FORMER for somebody whose right towards this wearer has ended, for 30 days; empty for a stranger."""
    if not has_known(session, actor, wearer):
        return frozenset()
    ended_at = _ended_at(session, actor, wearer)
    return frozenset({Role.FORMER} if ended_at is None or now < ended_at + FORMER_FOR else ())


def _ended_at(session: Session, actor: Actor, wearer: Wearer) -> datetime | None:
    """When the right itself ended; None where it stands and only the sign-in is over."""
    if actor.pass_id is not None:
        row = session.get_one(CarerPass, actor.pass_id)
        return min(row.revoked_at or row.expires_at, row.expires_at)
    guards = _guardianship(session, actor, wearer)
    return None if wearer.person_id == actor.person_id or guards is None else guards.ended_at


def _guardianship(session: Session, actor: Actor, wearer: Wearer) -> Guardianship | None:
    return session.get(Guardianship, (wearer.practice_id, wearer.id, actor.person_id))


def wearer_for(session: Session, actor: Actor, wearer_id: str, action: Action) -> Wearer:
    """Load a wearer for an action. NotFound for a stranger, NotAllowed for somebody with a lesser right."""
    wearer = session.get(Wearer, wearer_id) if is_id(wearer_id) else None
    roles = roles_towards(session, actor, wearer) if wearer else frozenset()
    if wearer is None or not roles or wearer.ended_at is not None:
        raise NotFound("wearer")
    if not may(roles, action):
        raise NotAllowed(action)
    return wearer


def roles_at(actor: Actor, practice_id: str) -> frozenset[Role]:
    """The actor's staff roles at a practice; empty for whoever does not work there."""
    return frozenset() if actor.expired else actor.works_at.get(practice_id, frozenset())


def practice_of(
    session: Session, actor: Actor, row: Alert | AlertTest | Hold | None, what: str, action: Action
) -> Practice:
    """Load the practice that a row belongs to, for an action there. NotFound for whoever does not work there."""
    if row is None or not roles_at(actor, row.practice_id):
        practice_for(session, actor, action)  # NotAllowed for whoever works nowhere
        raise NotFound(what)
    if not may(roles_at(actor, row.practice_id), action):
        raise NotAllowed(action)
    return session.get_one(Practice, row.practice_id)


def practice_for(session: Session, actor: Actor, action: Action) -> Practice:
    """Load the practice that the actor works at, for an action there."""
    if actor.practice_id is None:
        raise NotAllowed(action)
    if not may(actor.roles, action):
        raise NotAllowed(action)
    return session.get_one(Practice, actor.practice_id)


def own_account(session: Session, actor: Actor) -> Person:
    """Load the actor's own account. NotAllowed for the carrier of a pass, who has none."""
    if actor.pass_id is not None:
        raise NotAllowed("account")
    return session.get_one(Person, actor.person_id)
