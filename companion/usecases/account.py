"""One's own account: the password, and where one is signed in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from companion.common.errors import InvalidInput, NotFound, Problem
from companion.common.ids import is_id
from companion.store.models import DeviceKey, Person, SignIn
from companion.usecases import device_keys, passwords, signing
from companion.usecases.actor import Actor, own_account
from companion.usecases.audit import note


def account(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """What the account's page shows: how this person signs in and what they prefer."""
    person = own_account(session, actor)
    return {"login": login_of(person), **preferences_of(person), "sign_ins": sign_ins(session, actor, now)}


def preferences_of(person: Person) -> dict[str, str]:
    return {
        "language": person.language,
        "theme": person.theme,
        "hour_cycle": person.hour_cycle,
        "digits": person.digits,
        "text_size": person.text_size,
    }


def login_of(person: Person) -> dict[str, str | None]:
    return {"phone": person.phone, "short_name": person.short_name, "email": person.email}


@dataclass(frozen=True)
class NewPassword:
    """A new password for whoever knew the old one, as it was stored at that moment."""

    old_hash: str
    new_hash: str


def read_new_password(session: Session, actor: Actor, form: Mapping[str, str]) -> NewPassword:
    """Check the old password and hash the new one, in a reading session: both are slow."""
    person = own_account(session, actor)
    problems = passwords.problems_with(form.get("password", ""), form.get("password_again", ""))
    if not passwords.matches(person.password_hash, form.get("old", "")[: passwords.LONGEST]):
        problems.insert(0, Problem("password_wrong", "old"))
    if problems:
        raise InvalidInput(*problems)
    return NewPassword(person.password_hash or "", passwords.hashed(form["password"]))


def change_password(session: Session, actor: Actor, new: NewPassword, now: datetime) -> None:
    """Set a new password, unless the old one has changed meanwhile. Every other sign-in ends."""
    person = own_account(session, actor)
    if person.password_hash != new.old_hash:
        raise InvalidInput(Problem("password_wrong", "old"))
    person.password_hash = new.new_hash
    _end_others(session, actor, now)
    note(session, None, person.id, "change_password", "person", person.id, now)
    session.commit()


def sign_ins(session: Session, actor: Actor, now: datetime) -> list[dict[str, Any]]:
    """Where this person is signed in, or may still report trouble from; this place first, then the newest."""
    own_account(session, actor)
    keys = select(DeviceKey.sign_in_id).where(
        DeviceKey.person_id == actor.person_id, DeviceKey.ended_at.is_(None)
    )
    rows = session.scalars(
        select(SignIn)
        .where(
            SignIn.person_id == actor.person_id,
            (SignIn.ended_at.is_(None) & (SignIn.created_at > now - signing.LASTS)) | SignIn.id.in_(keys),
        )
        .order_by(SignIn.created_at.desc(), SignIn.id)
    )
    listed = [
        {
            "id": row.id,
            "agent": row.agent,
            "since": row.created_at.isoformat(timespec="seconds"),
            "here": row.id == actor.sign_in_id,
            "reports_only": row.ended_at is not None or row.created_at <= now - signing.LASTS,
        }
        for row in rows
    ]
    return sorted(listed, key=lambda one: not one["here"])


def end_sign_in(session: Session, actor: Actor, sign_in_id: str, now: datetime) -> None:
    """Sign out somewhere else: a phone that was lost, say. Its key goes too."""
    own_account(session, actor)
    row = session.get(SignIn, sign_in_id) if is_id(sign_in_id) else None
    if row is None or row.person_id != actor.person_id:
        raise NotFound("sign_in")
    row.ended_at = row.ended_at or now
    device_keys.end(session, now, DeviceKey.sign_in_id == row.id)
    note(session, None, actor.person_id, "end", "sign_in", row.id, now)
    session.commit()


def end_other_sign_ins(session: Session, actor: Actor, now: datetime) -> None:
    """Sign out everywhere but here."""
    own_account(session, actor)
    _end_others(session, actor, now)
    note(session, None, actor.person_id, "end_others", "person", actor.person_id, now)
    session.commit()


def _end_others(session: Session, actor: Actor, now: datetime) -> None:
    session.execute(
        update(SignIn)
        .where(SignIn.person_id == actor.person_id, SignIn.id != actor.sign_in_id, SignIn.ended_at.is_(None))
        .values(ended_at=now)
    )
    others = DeviceKey.person_id == actor.person_id, DeviceKey.sign_in_id != actor.sign_in_id
    device_keys.end(session, now, *others)
