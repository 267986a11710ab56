"""Consent to keep a diary here: which text, in which language, when."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.common.errors import InvalidInput, Problem
from companion.store.models import Consent, Guardianship, Wearer
from companion.usecases.actor import Actor
from companion.usecases.audit import note

TEXT_VERSION = "2026-11"
"""The version of the consent text in the phrasebook; a new one asks everybody again."""


def current(session: Session, actor: Actor) -> dict[str, Any]:
    """Return the version that is asked for, and whether this person has agreed to it."""
    return {"version": TEXT_VERSION, "given": _given(session, actor.person_id)}


def give(session: Session, actor: Actor, version: str, language: str, now: datetime) -> None:
    """Record that the actor agreed. A second tap changes nothing."""
    if version != TEXT_VERSION:
        raise InvalidInput(Problem("consent_old", "version"))
    if not _given(session, actor.person_id):
        session.add(
            Consent(person_id=actor.person_id, text_version=version, language=language, given_at=now)
        )
        note(session, None, actor.person_id, "consent", "person", actor.person_id, now)
    session.commit()


def consent_due(session: Session, actor: Actor) -> bool:
    """Family members are asked before their first page; staff act under the practice's own rules."""
    guards = session.scalar(
        select(Guardianship.person_id).where(
            Guardianship.person_id == actor.person_id, Guardianship.ended_at.is_(None)
        )
    )
    wears = session.scalar(select(Wearer.id).where(Wearer.person_id == actor.person_id))
    return bool(guards or wears) and not _given(session, actor.person_id)


def _given(session: Session, person_id: str) -> bool:
    return (
        session.scalar(
            select(Consent.id).where(Consent.person_id == person_id, Consent.text_version == TEXT_VERSION)
        )
        is not None
    )
