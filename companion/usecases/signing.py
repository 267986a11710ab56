"""Signing in and out. The same answer, in the same time, for somebody we know and somebody we do not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.access import Action, may
from companion.common.errors import InvalidInput, Problem
from companion.store.models import CarerPass, Guardianship, Person, Practice, SignIn, Wearer
from companion.usecases import passwords
from companion.usecases.actor import Actor, actor_of, carrier_of, roles_towards
from companion.usecases.audit import note
from companion.usecases.consents import consent_due
from companion.usecases.logins import read_login, tidy
from companion.usecases.showing import age_on

LASTS = timedelta(days=180)
IN_THE_FRAME = (Action.SEE_OWN_PAGES, Action.WRITE_DIARY, Action.KEEP_PROFILE, Action.GIVE_PASS, Action.VOUCH)
"""What the ways round offer only to those who may."""


@dataclass(frozen=True)
class Proof:
    """Somebody has given the right password, as it was stored at that moment."""

    person_id: str
    password_hash: str


WRONG = Problem("sign_in_wrong", "password")


def check_password(session: Session, login: str, password: str) -> Proof:
    """Say who signs in, in a reading session: the writer's lock is not held while the password is hashed."""
    person = _find(session, login)
    stored = person.password_hash if person else None
    known = passwords.matches(stored, password[: passwords.LONGEST])
    if person is None or stored is None or not known:
        raise InvalidInput(WRONG)
    return Proof(person.id, stored)


def sign_in(session: Session, proof: Proof, now: datetime, agent: str = "") -> str:
    """Open a sign-in and return its token, which only the browser keeps. Refused if the password has changed."""
    person = session.get_one(Person, proof.person_id)
    if person.password_hash != proof.password_hash:
        raise InvalidInput(WRONG)
    token = open_sign_in(session, person.id, now, agent)
    note(session, None, person.id, "sign_in", "person", person.id, now)
    session.commit()
    return token


def login_key(session: Session, login: str) -> str:
    """Return one key for a log-in however it is typed, whether or not anybody has it: to count tries by."""
    try:
        kind, value = read_login(login, regions(session))
    except InvalidInput:
        return passwords.token_hash(tidy(login))
    return passwords.token_hash(f"{kind} {value}")


def open_sign_in(session: Session, person_id: str, now: datetime, agent: str, pass_id: str | None = None) -> str:
    token = passwords.new_token()
    session.add(
        SignIn(
            token_hash=passwords.token_hash(token),
            person_id=person_id,
            pass_id=pass_id,
            created_at=now,
            last_seen_at=now,
            agent=agent[:120],
        )
    )
    return token


def sign_out(session: Session, actor: Actor, now: datetime) -> None:
    """End this sign-in; its token is worth nothing from now on."""
    row = session.get_one(SignIn, actor.sign_in_id)
    row.ended_at = now
    session.commit()


def actor_for_token(session: Session, token: str, now: datetime) -> Actor | None:
    """Return who holds this token, or None when it is unknown, ended or too old."""
    row = session.scalar(select(SignIn).where(SignIn.token_hash == passwords.token_hash(token)))
    if row is None or row.ended_at is not None or now - row.created_at > LASTS:
        return None
    person = session.get_one(Person, row.person_id)
    if row.pass_id is not None:
        return carrier_of(person, row.id, session.get_one(CarerPass, row.pass_id), now)
    return actor_of(session, person, row.id)


def sender_for_token(session: Session, token: str) -> Actor | None:
    """Return whose sign-in this was, though it is over: they may still send a report, unverified."""
    row = session.scalar(select(SignIn).where(SignIn.token_hash == passwords.token_hash(token)))
    return sender_of(session, row) if row else None


def sender_of(session: Session, row: SignIn) -> Actor:
    """Return whose sign-in this is or was, as worth an unverified report and nothing else."""
    actor = actor_of(session, session.get_one(Person, row.person_id), row.id)
    return replace(actor, practice_id=None, roles=frozenset(), pass_id=row.pass_id, expired=True)


def frame(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """Return what every page's frame shows: the person, their wearers, their work place."""
    practice = session.get(Practice, actor.practice_id) if actor.practice_id else None
    return {
        "person": {
            "id": actor.person_id,
            "name": actor.name,
            "language": actor.language,
            "theme": actor.theme,
        },
        "wearers": [
            {
                "id": w.id,
                "name": w.name,
                "mark": w.mark,
                "age": age_on(w, now),
                "zone": w.zone,
                "may": [one.value for one in IN_THE_FRAME if may(roles_towards(session, actor, w), one)],
            }
            for w in wearers_of(session, actor)
        ],
        "practice": practice and {"id": practice.id, "name": practice.name, "phone": practice.phone},
        "roles": sorted(actor.roles),
        "consent_due": consent_due(session, actor),
    }


def wearers_of(session: Session, actor: Actor) -> list[Wearer]:
    """The wearers that this person looks after, and themselves; or the one whose pass they carry."""
    if actor.pass_id is not None:
        return list(session.scalars(select(Wearer).where(Wearer.id == actor.carries, Wearer.ended_at.is_(None))))
    guarded = select(Guardianship.wearer_id).where(
        Guardianship.person_id == actor.person_id, Guardianship.ended_at.is_(None)
    )
    return list(
        session.scalars(
            select(Wearer)
            .where((Wearer.person_id == actor.person_id) | Wearer.id.in_(guarded), Wearer.ended_at.is_(None))
            .order_by(Wearer.birth_date.desc(), Wearer.name)
        )
    )


def regions(session: Session) -> list[str]:
    """Where our practices are: a number without a country code is read as dialled there."""
    return sorted(set(session.scalars(select(Practice.country))))


def _find(session: Session, login: str) -> Person | None:
    try:
        kind, value = read_login(login, regions(session))
    except InvalidInput:
        return None
    return session.scalar(select(Person).where(getattr(Person, kind) == value))
