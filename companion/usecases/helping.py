"""Whom a family calls when something is wrong: the wearer it is about, and their practice as it stands now."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.moments import zone
from companion.store.models import Practice, Wearer
from companion.usecases.actor import Actor, wearer_for
from companion.usecases.showing import practice_now, wearer_plain
from companion.usecases.signing import wearers_of


def help_for(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """Return one wearer and whom to call for them."""
    return _help(session, wearer_for(session, actor, wearer_id, Action.REPORT_SYMPTOMS), now)


def all_help(session: Session, actor: Actor, now: datetime) -> list[dict[str, Any]]:
    """Return the same for everybody whom this person looks after."""
    return [_help(session, wearer, now) for wearer in wearers_of(session, actor)]


def _help(session: Session, wearer: Wearer, now: datetime) -> dict[str, Any]:
    practice = session.get_one(Practice, wearer.practice_id)
    return {"wearer": wearer_plain(wearer, now), "practice": practice_now(practice, now, zone(wearer.zone))}
