"""One-time links by which people join: single use, expiring, stored hashed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from companion.access import Action, Role
from companion.access.table import STAFF_ROLES
from companion.common.errors import Conflict, InvalidInput, NotFound, Problem
from companion.common.ids import is_id
from companion.common.moments import zone
from companion.phrasebook.languages import LANGUAGES
from companion.store.models import Guardianship, Invitation, Membership, Person, Practice, Wearer
from companion.usecases import passwords
from companion.usecases.actor import Actor, own_account, practice_for, wearer_for
from companion.usecases.audit import note
from companion.usecases.consents import TEXT_VERSION
from companion.usecases.logins import read_login
from companion.usecases.showing import iso
from companion.usecases.signing import open_sign_in, regions

LASTS = timedelta(days=14)
FAMILY_KINDS = (Role.GUARDIAN, Role.WEARER)
TAKEN, BOTH = Problem("wearer_has_account", "link"), Problem("wearer_or_guardian", "link")


def invite(
    session: Session, actor: Actor, wearer_id: str, kind: str, name: str, now: datetime, language: str = "en"
) -> str:
    """Invite a guardian, or the wearer in person. Returns the link's token, which is never shown again."""
    wearer = wearer_for(session, actor, wearer_id, Action.ENROL)
    if kind not in FAMILY_KINDS:
        raise InvalidInput(Problem("choice_unknown", "kind"))
    if kind == Role.WEARER and wearer.person_id is not None:
        raise InvalidInput(Problem("wearer_has_account", "kind"))
    token = write_invitation(session, wearer.practice_id, kind, name, language, now, actor.person_id, wearer.id)
    session.commit()
    return token


def invite_staff(session: Session, actor: Actor, role: str, name: str, now: datetime, language: str = "en") -> str:
    """Invite somebody to work at the actor's practice. Returns the link's token."""
    practice = practice_for(session, actor, Action.MANAGE_STAFF)
    if role not in STAFF_ROLES:
        raise InvalidInput(Problem("choice_unknown", "role"))
    token = write_invitation(session, practice.id, role, name, language, now, actor.person_id)
    session.commit()
    return token


def write_invitation(
    session: Session,
    practice_id: str,
    kind: str,
    name: str,
    language: str,
    now: datetime,
    invited_by: str | None,
    wearer_id: str | None = None,
) -> str:
    """Add an invitation to the caller's transaction and return its token."""
    if not name.strip():
        raise InvalidInput(Problem("missing", "name"))
    token = passwords.new_token()
    row = Invitation(
        practice_id=practice_id,
        token_hash=passwords.token_hash(token),
        kind=kind,
        wearer_id=wearer_id,
        name=name.strip()[:80],
        language=language,
        invited_by=invited_by,
        created_at=now,
        expires_at=now + LASTS,
    )
    session.add(row)
    session.flush()
    note(session, practice_id, invited_by, "invite", "invitation", row.id, now)
    return token


def resend(session: Session, actor: Actor, invitation_id: str, now: datetime) -> str:
    """Replace an invitation that was not used by a fresh one. The old link is worth nothing from now on."""
    row = _mine(session, actor, invitation_id)
    if row.used_at is not None:
        raise Conflict("invitation_used")
    row.revoked_at = row.revoked_at or now
    token = write_invitation(
        session, row.practice_id, row.kind, row.name, row.language, now, actor.person_id, row.wearer_id
    )
    session.commit()
    return token


def revoke(session: Session, actor: Actor, invitation_id: str, now: datetime) -> Invitation:
    """End an invitation that was not used."""
    row = _mine(session, actor, invitation_id)
    if row.used_at is not None:
        raise Conflict("invitation_used")
    if row.revoked_at is None:
        row.revoked_at = now
        note(session, row.practice_id, actor.person_id, "revoke", "invitation", row.id, now)
    session.commit()
    return row


def look(session: Session, token: str, now: datetime, actor: Actor | None = None) -> dict[str, Any]:
    """Show who invites whom, before anything is accepted. NotFound when the link is used, old or unknown.

    ``refused`` says why nobody can join by it, ``refused_as_me`` why whoever is signed in can't.
    """
    row = _open(session, token, now)
    practice = session.get_one(Practice, row.practice_id)
    return {
        "refused": TAKEN if _is_taken(session, row) else None,
        "refused_as_me": BOTH if actor and _is_both(session, row, actor.person_id) else None,
        "practice": {"name": practice.name, "phone": practice.phone},
        "invited_by": session.get_one(Person, row.invited_by).name if row.invited_by else None,
        "kind": row.kind,
        "name": row.name,
        "wearer": {"name": session.get_one(Wearer, row.wearer_id).name} if row.wearer_id else None,
        "language": row.language,
        "expires_at": iso(row.expires_at, zone(practice.zone)),
        "consent": {"version": TEXT_VERSION},
    }


@dataclass(frozen=True)
class NewAccount:
    """A form that was checked: the log-in's kind and stored form, and the password's hash."""

    name: str
    login_kind: str
    login: str
    password_hash: str
    language: str


def read_form(session: Session, token: str, form: Mapping[str, str], now: datetime) -> NewAccount:
    """Check the form of somebody who joins, in a reading session: hashing the password is slow.

    The account speaks the language in which the form was read, if it says so, else the invitation's.
    """
    row = _open(session, token, now)
    problems: list[Problem] = [TAKEN] if _is_taken(session, row) else []
    name = form.get("name", "").strip()
    if not name:
        problems.append(Problem("missing", "name"))
    kind, value = "short_name", ""
    try:
        kind, value = read_login(form.get("login", ""), regions(session))
        problems.extend(_login_taken(session, kind, value))
    except InvalidInput as wrong:
        problems.extend(wrong.problems)
    problems.extend(passwords.problems_with(form.get("password", ""), form.get("password_again", "")))
    if problems:
        raise InvalidInput(*problems)
    read_in = form.get("language", "")
    language = read_in if read_in in LANGUAGES else row.language
    return NewAccount(name[:80], kind, value, passwords.hashed(form["password"]), language)


def accept(session: Session, token: str, account: NewAccount, now: datetime, agent: str = "") -> str:
    """Make the account, tie it to what the link is for, use the link up, sign in. Returns the sign-in's token."""
    row = _open(session, token, now)
    taken = _login_taken(session, account.login_kind, account.login)
    if taken:
        raise InvalidInput(*taken)
    person = Person(
        name=account.name,
        language=account.language,
        password_hash=account.password_hash,
        created_at=now,
        **{account.login_kind: account.login},
    )
    session.add(person)
    session.flush()
    _join(session, row, person.id, now)
    sign_in_token = open_sign_in(session, person.id, now, agent)
    session.commit()
    return sign_in_token


def accept_as(session: Session, actor: Actor, token: str, now: datetime) -> None:
    """Tie the account that is signed in to what the link is for: a second child, say."""
    own_account(session, actor)
    row = _open(session, token, now)
    if _is_both(session, row, actor.person_id):
        raise InvalidInput(BOTH)
    _join(session, row, actor.person_id, now)
    session.commit()


def invitation_of(session: Session, token: str) -> Invitation:
    """Return the invitation that a token belongs to, for the card of whoever has just made it."""
    return session.scalars(select(Invitation).where(Invitation.token_hash == passwords.token_hash(token))).one()


def state_of(row: Invitation, now: datetime) -> str:
    if row.used_at:
        return "used"
    if row.revoked_at:
        return "revoked"
    return "expired" if row.expires_at <= now else "open"


def _mine(session: Session, actor: Actor, invitation_id: str) -> Invitation:
    """Load an invitation that the actor may handle: of a wearer, or of staff."""
    row = session.get(Invitation, invitation_id) if is_id(invitation_id) else None
    if row is None:
        practice_for(session, actor, Action.ENROL)
        raise NotFound("invitation")
    if row.wearer_id is not None:
        wearer_for(session, actor, row.wearer_id, Action.ENROL)
        return row
    if practice_for(session, actor, Action.MANAGE_STAFF).id != row.practice_id:
        raise NotFound("invitation")
    return row


def _open(session: Session, token: str, now: datetime) -> Invitation:
    row = session.scalar(select(Invitation).where(Invitation.token_hash == passwords.token_hash(token)))
    if row is None or row.used_at or row.revoked_at or row.expires_at <= now:
        raise NotFound("invitation")
    return row


def _is_taken(session: Session, row: Invitation) -> bool:
    """A wearer's account is theirs: no link puts another in its place. Back in leads the desk's recovery."""
    return row.kind == Role.WEARER and session.get_one(Wearer, row.wearer_id).person_id is not None


def _is_both(session: Session, row: Invitation, person_id: str) -> bool:
    """One account is the wearer's or a guardian's, never both: else a child could look after themselves."""
    if row.wearer_id is None:
        return False
    if row.kind == Role.GUARDIAN:
        return session.get_one(Wearer, row.wearer_id).person_id == person_id
    guards = session.get(Guardianship, (row.practice_id, row.wearer_id, person_id))
    return guards is not None and guards.ended_at is None


def _join(session: Session, row: Invitation, person_id: str, now: datetime) -> None:
    used = session.scalar(
        update(Invitation)
        .where(Invitation.id == row.id, Invitation.used_at.is_(None), Invitation.revoked_at.is_(None))
        .values(used_at=now, used_by=person_id)
        .returning(Invitation.id)
    )
    if used is None:  # somebody else was faster with the same link
        raise NotFound("invitation")
    if row.wearer_id is None:
        session.merge(
            Membership(practice_id=row.practice_id, person_id=person_id, role=row.kind, since=now, ended_at=None)
        )
    elif row.kind == Role.WEARER:
        free = update(Wearer).where(Wearer.id == row.wearer_id, Wearer.person_id.is_(None))
        if session.scalar(free.values(person_id=person_id).returning(Wearer.id)) is None:
            raise InvalidInput(TAKEN)
    else:
        session.merge(
            Guardianship(
                practice_id=row.practice_id, wearer_id=row.wearer_id, person_id=person_id, since=now, ended_at=None
            )
        )
    note(session, row.practice_id, person_id, "join", "invitation", row.id, now)


def _login_taken(session: Session, kind: str, value: str) -> list[Problem]:
    taken = session.scalar(select(Person.id).where(getattr(Person, kind) == value))
    return [Problem("login_taken", "login")] if taken else []
