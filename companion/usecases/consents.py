"""Consent to keep a diary here: which text, in which language, when."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.common.errors import InvalidInput, Problem
from companion.store.models import Consent, Guardianship, Wearer
from companion.usecases.actor import Actor, own_account
from companion.usecases.audit import note

TEXT_VERSION = "2026-12"
"""The version of the consent text in the phrasebook; a new one asks everybody again."""


def current(session: Session, actor: Actor) -> dict[str, Any]:
    """Return the version that is asked for, and whether this person has agreed to it."""
    own_account(session, actor)
    return {"version": TEXT_VERSION, "given": _given(session, actor.person_id)}


def give(session: Session, actor: Actor, version: str, language: str, now: datetime) -> None:
    """Record that the actor agreed. A second tap changes nothing; after a withdrawal it counts anew."""
    own_account(session, actor)
    if version != TEXT_VERSION:
        raise InvalidInput(Problem("consent_old", "version"))
    if not _given(session, actor.person_id):
        row = _row(session, actor.person_id) or Consent(person_id=actor.person_id, text_version=version)
        row.language, row.given_at, row.withdrawn_at = language, now, None
        session.add(row)
        note(session, None, actor.person_id, "consent", "person", actor.person_id, now)
    session.commit()


def withdraw(session: Session, actor: Actor, now: datetime) -> None:
    """Take the agreement back: the family's pages stay shut to this person until they agree again.

    The practice keeps its record, reports of trouble still reach it, and emergency advice is open to all.
    """
    own_account(session, actor)
    row = _row(session, actor.person_id)
    if row is not None and row.withdrawn_at is None:
        row.withdrawn_at = now
        note(session, None, actor.person_id, "withdraw_consent", "person", actor.person_id, now)
    session.commit()


def history(session: Session, actor: Actor) -> list[dict[str, Any]]:
    """Return every consent of this person: version, language, when given and taken back; newest first."""
    rows = session.scalars(
        select(Consent).where(Consent.person_id == actor.person_id).order_by(Consent.given_at.desc())
    )
    return [
        {
            "version": row.text_version,
            "language": row.language,
            "given_at": row.given_at.isoformat(timespec="seconds"),
            "withdrawn_at": row.withdrawn_at.isoformat(timespec="seconds") if row.withdrawn_at else None,
        }
        for row in rows
    ]


def consent_due(session: Session, actor: Actor) -> bool:
    """Family members are asked before their first page; staff act under the practice's own rules."""
    if actor.pass_id is not None:
        return False
    guards = session.scalar(
        select(Guardianship.person_id).where(
            Guardianship.person_id == actor.person_id, Guardianship.ended_at.is_(None)
        )
    )
    wears = session.scalar(select(Wearer.id).where(Wearer.person_id == actor.person_id))
    return bool(guards or wears) and not _given(session, actor.person_id)


def _given(session: Session, person_id: str) -> bool:
    row = _row(session, person_id)
    return row is not None and row.withdrawn_at is None


def _row(session: Session, person_id: str) -> Consent | None:
    return session.scalar(
        select(Consent).where(Consent.person_id == person_id, Consent.text_version == TEXT_VERSION)
    )
