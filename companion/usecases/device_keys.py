"""Device keys: what a phone keeps so that a report of trouble goes out though its sign-in is over.

A key may only add, and only reports, which the desk sees as unverified; it shows nothing. The first sync of a
sign-in sets it up. It is listed with the sign-ins, and ends with the one it came from when that is ended from
elsewhere, and with a new password, a recovery or the end of a guardianship; signing out on the phone leaves it.
"""

from __future__ import annotations

import hmac
from datetime import datetime

from sqlalchemy import ColumnElement, select, update
from sqlalchemy.orm import Session

from companion.common.ids import is_id
from companion.store.models import DeviceKey, SignIn
from companion.usecases import passwords, signing
from companion.usecases.actor import Actor


def is_due(session: Session, actor: Actor, device: str, held: str | None) -> bool:
    """Say whether this phone needs a key: there is somebody to report about, and it has none of this sign-in.

    held: the id of the key that the phone says it has; None where it does not say.
    """
    good = session.scalars(select(DeviceKey.id).where(*_on(actor, device), _good())).all()
    return (held not in good if held else not good) and bool(signing.wearers_of(session, actor))


def set_up(session: Session, actor: Actor, device: str, now: datetime) -> str:
    """Return a new key for this phone, which only the phone keeps; what it had before is worth nothing now."""
    end(session, now, DeviceKey.person_id == actor.person_id, DeviceKey.device == device)
    secret = passwords.new_token()
    row = DeviceKey(
        secret_hash=passwords.token_hash(secret),
        person_id=actor.person_id,
        sign_in_id=actor.sign_in_id,
        device=device,
        created_at=now,
    )
    session.add(row)
    session.flush()
    session.commit()
    return f"{row.id}.{secret}"


def bearer(session: Session, key: str) -> Actor | None:
    """Return who sends with this key, as worth an unverified report and nothing else; None if it is not good."""
    key_id, _, secret = key.partition(".")
    row = session.get(DeviceKey, key_id) if is_id(key_id) else None
    if row is None or row.ended_at is not None:
        return None
    if not hmac.compare_digest(row.secret_hash, passwords.token_hash(secret)):
        return None
    return signing.sender_of(session, session.get_one(SignIn, row.sign_in_id))


def end(session: Session, now: datetime, *which: ColumnElement[bool]) -> None:
    """End the good keys among these, inside the caller's transaction."""
    session.execute(update(DeviceKey).where(*which, _good()).values(ended_at=now))


def _good() -> ColumnElement[bool]:
    return DeviceKey.ended_at.is_(None)


def _on(actor: Actor, device: str) -> tuple[ColumnElement[bool], ...]:
    return DeviceKey.sign_in_id == actor.sign_in_id, DeviceKey.device == device
