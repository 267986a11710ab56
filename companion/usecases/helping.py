"""Whom a family calls when something is wrong: the wearer it is about, and their practice as it stands now."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.ids import is_id
from companion.common.moments import zone
from companion.store.models import Practice, Wearer
from companion.usecases.actor import Actor, has_known, roles_towards, wearer_for
from companion.usecases.showing import practice_now, wearer_plain
from companion.usecases.signing import wearers_of
from companion.usecases.young import young_alone


def help_for(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """Return one wearer and whom to call for them."""
    return _help(session, actor, wearer_for(session, actor, wearer_id, Action.REPORT_SYMPTOMS), now)


def help_unless_former(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any] | None:
    """The same; None for somebody whose right has ended: what they say is judged, and they are shown nothing."""
    wearer = session.get(Wearer, wearer_id) if is_id(wearer_id) else None
    if wearer and not roles_towards(session, actor, wearer) and has_known(session, actor, wearer):
        return None
    return help_for(session, actor, wearer_id, now)


def all_help(session: Session, actor: Actor, now: datetime) -> list[dict[str, Any]]:
    """Return the same for everybody whom this person looks after."""
    return [_help(session, actor, wearer, now) for wearer in wearers_of(session, actor)]


def _help(session: Session, actor: Actor, wearer: Wearer, now: datetime) -> dict[str, Any]:
    practice = session.get_one(Practice, wearer.practice_id)
    return {
        "wearer": wearer_plain(wearer, now),
        "practice": practice_now(practice, now, zone(wearer.zone)),
        "young": young_alone(session, actor, wearer, now),
    }
