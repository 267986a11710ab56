"""Back in without an e-mail address: at the practice's desk, or at a co-guardian's word that the desk confirms.

A recovery is a one-time link, shown and never sent. Used, it sets a new password and ends every other sign-in of
the person. Whoever belongs to another practice too is refused: one practice's desk must not open another's doors;
a new invitation makes an account for this practice alone. A co-guardian's link opens nothing until the practice
has spoken with the person whom it is for. Whoever began it must have the right to it still when it is used.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from companion.access import Action, Role, may
from companion.common.errors import InvalidInput, NotAllowed, NotFound, Problem
from companion.common.ids import is_id
from companion.common.moments import zone
from companion.store.models import DeviceKey, Guardianship, Membership, Person, Practice, Recovery, SignIn, Wearer
from companion.usecases import device_keys, passwords
from companion.usecases.actor import Actor, practice_for, wearer_for
from companion.usecases.audit import note
from companion.usecases.guardianships import guardians_of
from companion.usecases.showing import iso, wearer_plain
from companion.usecases.signing import open_sign_in

AT_THE_DESK = timedelta(hours=1)
UNCONFIRMED = timedelta(days=3)
CONFIRMED = timedelta(hours=24)


def start_at_the_desk(session: Session, actor: Actor, person_id: str, now: datetime) -> str:
    """Let somebody of the actor's practice back in, face to face. Returns the link's token."""
    practice = practice_for(session, actor, Action.RECOVER_FAMILY)
    person = _person_here(session, actor, practice, person_id)
    token = _write(session, practice.id, person.id, actor, now, now + AT_THE_DESK, confirmed=True)
    session.commit()
    return token


def vouch(session: Session, actor: Actor, wearer_id: str, person_id: str, now: datetime) -> str:
    """Ask the practice to let a co-guardian back in. Returns the token of a link that waits for its word."""
    wearer = wearer_for(session, actor, wearer_id, Action.VOUCH)
    others = {one.id: one for one in guardians_of(session, wearer)}
    person = others.get(person_id)
    if person is None or person.id == actor.person_id:
        raise NotFound("person")
    if _belongs_elsewhere(session, person, wearer.practice_id) or _memberships(session, person):
        raise InvalidInput(Problem("recovery_elsewhere", "person_id"))
    token = _write(session, wearer.practice_id, person.id, actor, now, now + UNCONFIRMED, confirmed=False)
    session.commit()
    return token


def co_guardians(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """Who else looks after the wearer: names alone."""
    wearer = wearer_for(session, actor, wearer_id, Action.VOUCH)
    others = [one for one in guardians_of(session, wearer) if one.id != actor.person_id]
    return {
        "wearer": wearer_plain(wearer, now),
        "practice": session.get_one(Practice, wearer.practice_id).name,
        "others": [{"id": one.id, "name": one.name} for one in others],
    }


def waiting(session: Session, actor: Actor, now: datetime) -> list[dict[str, Any]]:
    """The recoveries that wait for the practice's word, oldest first."""
    practice = practice_for(session, actor, Action.RECOVER_FAMILY)
    rows = session.scalars(
        select(Recovery)
        .where(
            Recovery.practice_id == practice.id,
            Recovery.confirmed_at.is_(None),
            Recovery.used_at.is_(None),
            Recovery.revoked_at.is_(None),
            Recovery.expires_at > now,
        )
        .order_by(Recovery.created_at, Recovery.id)
    )
    return [
        {
            "id": row.id,
            "name": (person := session.get_one(Person, row.person_id)).name,
            "phone": person.phone,
            "asked_by": session.get_one(Person, row.started_by).name,
            "asked_at": iso(row.created_at, zone(practice.zone)),
        }
        for row in rows
        if _still_good(session, row)
    ]


def confirm(session: Session, actor: Actor, recovery_id: str, now: datetime) -> None:
    """Say that the practice has spoken with the person: the link that was shown then works, for a day."""
    row = _waiting_here(session, actor, recovery_id, now)
    row.confirmed_at, row.confirmed_by, row.expires_at = now, actor.person_id, now + CONFIRMED
    note(session, row.practice_id, actor.person_id, "confirm", "recovery", row.id, now)
    session.commit()


def refuse(session: Session, actor: Actor, recovery_id: str, now: datetime) -> None:
    row = _waiting_here(session, actor, recovery_id, now)
    row.revoked_at = now
    note(session, row.practice_id, actor.person_id, "refuse", "recovery", row.id, now)
    session.commit()


def look(session: Session, token: str, now: datetime) -> dict[str, Any]:
    """Show for whom a link is, and whether it waits for the practice. NotFound when it is used, old or unknown."""
    row = _open(session, token, now)
    person, practice = session.get_one(Person, row.person_id), session.get_one(Practice, row.practice_id)
    at_the_desk = row.confirmed_by == row.started_by
    return {
        "name": person.name,
        "language": person.language,
        "practice": {"name": practice.name, "phone": practice.phone},
        "confirmed": row.confirmed_at is not None,
        # A link that a co-guardian holds never shows how its owner signs in: that may be a phone number.
        "login": (person.phone or person.short_name or person.email) if at_the_desk else None,
        "expires_at": iso(row.expires_at, zone(practice.zone)),
    }


def read_form(session: Session, token: str, form: Mapping[str, str], now: datetime) -> str:
    """Check a new password and return its hash, in a reading session: hashing is slow."""
    if _open(session, token, now).confirmed_at is None:
        raise InvalidInput(Problem("recovery_waits", "password"))
    problems = passwords.problems_with(form.get("password", ""), form.get("password_again", ""))
    if problems:
        raise InvalidInput(*problems)
    return passwords.hashed(form["password"])


def use(session: Session, token: str, password_hash: str, now: datetime, agent: str = "") -> str:
    """Set a new password, end every other sign-in, sign in. Returns the sign-in's token."""
    row = _open(session, token, now)
    if row.confirmed_at is None:
        raise InvalidInput(Problem("recovery_waits", "password"))
    used = session.scalar(
        update(Recovery)
        .where(Recovery.id == row.id, Recovery.used_at.is_(None), Recovery.revoked_at.is_(None))
        .values(used_at=now)
        .returning(Recovery.id)
    )
    if used is None:
        raise NotFound("recovery")
    session.get_one(Person, row.person_id).password_hash = password_hash
    session.execute(
        update(SignIn).where(SignIn.person_id == row.person_id, SignIn.ended_at.is_(None)).values(ended_at=now)
    )
    device_keys.end(session, now, DeviceKey.person_id == row.person_id)
    _end_others(session, row.person_id, now)
    sign_in_token = open_sign_in(session, row.person_id, now, agent)
    note(session, row.practice_id, row.person_id, "recover", "person", row.person_id, now)
    session.commit()
    return sign_in_token


def _write(
    session: Session,
    practice_id: str,
    person_id: str,
    actor: Actor,
    now: datetime,
    until: datetime,
    confirmed: bool,
) -> str:
    _end_others(session, person_id, now)
    token = passwords.new_token()
    row = Recovery(
        practice_id=practice_id,
        person_id=person_id,
        token_hash=passwords.token_hash(token),
        started_by=actor.person_id,
        created_at=now,
        expires_at=until,
        confirmed_at=now if confirmed else None,
        confirmed_by=actor.person_id if confirmed else None,
    )
    session.add(row)
    session.flush()
    note(session, practice_id, actor.person_id, "start", "recovery", row.id, now)
    return token


def _end_others(session: Session, person_id: str, now: datetime) -> None:
    """A new link replaces the old: of one person's, only one is ever good."""
    session.execute(
        update(Recovery)
        .where(Recovery.person_id == person_id, Recovery.used_at.is_(None), Recovery.revoked_at.is_(None))
        .values(revoked_at=now)
    )


def _open(session: Session, token: str, now: datetime) -> Recovery:
    row = session.scalar(select(Recovery).where(Recovery.token_hash == passwords.token_hash(token)))
    if row is None or row.used_at or row.revoked_at or row.expires_at <= now or not _still_good(session, row):
        raise NotFound("recovery")
    return row


def _waiting_here(session: Session, actor: Actor, recovery_id: str, now: datetime) -> Recovery:
    practice = practice_for(session, actor, Action.RECOVER_FAMILY)
    row = session.get(Recovery, recovery_id) if is_id(recovery_id) else None
    if row is None or row.practice_id != practice.id or row.confirmed_at or row.used_at or row.revoked_at:
        raise NotFound("recovery")
    if row.expires_at <= now or not _still_good(session, row):
        raise NotFound("recovery")
    return row


def _still_good(session: Session, row: Recovery) -> bool:
    """Say whether whoever began it still may, and the person is still this practice's alone."""
    person = session.get_one(Person, row.person_id)
    if _belongs_elsewhere(session, person, row.practice_id):
        return False
    works_here = row.practice_id in _memberships(session, person)
    roles = session.scalars(
        select(Membership.role).where(
            Membership.practice_id == row.practice_id,
            Membership.person_id == row.started_by,
            Membership.ended_at.is_(None),
        )
    )
    if may(map(Role, roles), Action.MANAGE_STAFF if works_here else Action.RECOVER_FAMILY):
        return True
    return not works_here and _look_after_together(session, row)


def _look_after_together(session: Session, row: Recovery) -> bool:
    """Say whether who vouched and whom they vouched for are guardians of one wearer today."""
    both = (row.started_by, row.person_id)
    wearer = (
        select(Guardianship.wearer_id)
        .join(Wearer, Wearer.id == Guardianship.wearer_id)
        .where(
            Guardianship.practice_id == row.practice_id,
            Guardianship.person_id.in_(both),
            Guardianship.ended_at.is_(None),
            Wearer.ended_at.is_(None),
        )
        .group_by(Guardianship.wearer_id)
        .having(func.count() == len(both))
    )
    return session.scalars(wearer).first() is not None


def _person_here(session: Session, actor: Actor, practice: Practice, person_id: str) -> Person:
    """Load somebody who belongs to this practice; for a colleague the actor must manage staff."""
    person = session.get(Person, person_id) if is_id(person_id) else None
    if person is None:
        raise NotFound("person")
    works_here = practice.id in _memberships(session, person)
    if not works_here and practice.id not in _family_ties(session, person):
        raise NotFound("person")
    if _belongs_elsewhere(session, person, practice.id):
        raise InvalidInput(Problem("recovery_elsewhere", "person_id"))
    if works_here:
        practice_for(session, actor, Action.MANAGE_STAFF)
    if person.id == actor.person_id:
        raise NotAllowed(Action.RECOVER_FAMILY)
    return person


def _belongs_elsewhere(session: Session, person: Person, practice_id: str) -> bool:
    return bool((_memberships(session, person) | _family_ties(session, person)) - {practice_id})


def _memberships(session: Session, person: Person) -> set[str]:
    return set(
        session.scalars(
            select(Membership.practice_id).where(Membership.person_id == person.id, Membership.ended_at.is_(None))
        )
    )


def _family_ties(session: Session, person: Person) -> set[str]:
    guards = select(Guardianship.practice_id).where(
        Guardianship.person_id == person.id, Guardianship.ended_at.is_(None)
    )
    wears = select(Wearer.practice_id).where(Wearer.person_id == person.id, Wearer.ended_at.is_(None))
    return set(session.scalars(guards)) | set(session.scalars(wears))
