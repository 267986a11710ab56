"""A young wearer takes over the diary, at the age that the practice sets, once both sides have read who sees what.

Afterwards guardians keep what safety needs: tonight's answer, serious reports, and the news of them while the
wearer is a minor. They stay guardians; only the practice ends that.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action, Role
from companion.common.errors import InvalidInput, NotFound, Problem
from companion.store.models import Handover, Practice, Wearer
from companion.usecases.actor import Actor, roles_towards, wearer_for
from companion.usecases.audit import note
from companion.usecases.guardianships import guardians_of
from companion.usecases.showing import age_on, is_minor, wearer_plain


def offer(session: Session, actor: Actor, wearer_id: str, now: datetime) -> None:
    """Offer the hand-over. Both sides are shown who will see what; nothing changes before both have read it."""
    wearer = wearer_for(session, actor, wearer_id, Action.ENROL)
    age = session.get_one(Practice, wearer.practice_id).handover_age
    if age_on(wearer, now) < age:
        raise InvalidInput(Problem("handover_too_young", "handover", {"age": age}))
    if _row(session, wearer) is None:
        session.add(
            Handover(
                practice_id=wearer.practice_id, wearer_id=wearer.id, offered_at=now, offered_by=actor.person_id
            )
        )
        note(session, wearer.practice_id, actor.person_id, "offer_handover", "wearer", wearer.id, now)
    session.commit()


def take_back(session: Session, actor: Actor, wearer_id: str, now: datetime) -> None:
    """Take an offer back, or the hand-over itself: the guardians see the diary again."""
    wearer = wearer_for(session, actor, wearer_id, Action.ENROL)
    row = _row(session, wearer)
    if row is not None:
        session.delete(row)
        wearer.handed_over_at = None
        note(session, wearer.practice_id, actor.person_id, "take_back_handover", "wearer", wearer.id, now)
    session.commit()


def show(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """What one side is told before they say that they have read it. NotFound where nothing is offered."""
    wearer = wearer_for(session, actor, wearer_id, Action.READ_HANDOVER)
    row = _row(session, wearer)
    if row is None or wearer.handed_over_at is not None:
        raise NotFound("handover")
    mine = _side(session, actor, wearer)
    return {
        "wearer": wearer_plain(wearer, now),
        "practice": session.get_one(Practice, wearer.practice_id).name,
        "side": mine,
        "minor": is_minor(wearer, now),
        "read": _read_at(row, mine) is not None,
        "waits_for": _waits_for(session, wearer, row),
    }


def plan(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """How far the hand-over is, for the practice's page."""
    wearer = wearer_for(session, actor, wearer_id, Action.ENROL)
    age = session.get_one(Practice, wearer.practice_id).handover_age
    return {
        "wearer": wearer_plain(wearer, now),
        "minor": is_minor(wearer, now),
        "has_log_in": wearer.person_id is not None,
        "age": age,
        **state(session, wearer, now),
    }


def read(session: Session, actor: Actor, wearer_id: str, now: datetime) -> None:
    """Say *I have read this*. When both sides have, the wearer takes over."""
    wearer = wearer_for(session, actor, wearer_id, Action.READ_HANDOVER)
    row = _row(session, wearer)
    if row is None or wearer.handed_over_at is not None:
        raise NotFound("handover")
    if _side(session, actor, wearer) == "wearer":
        row.wearer_read_at = row.wearer_read_at or now
    elif row.guardian_read_at is None:
        row.guardian_read_at, row.guardian_id = now, actor.person_id
    note(session, wearer.practice_id, actor.person_id, "read_handover", "wearer", wearer.id, now)
    if not _waits_for(session, wearer, row):
        wearer.handed_over_at = now
        note(session, wearer.practice_id, actor.person_id, "hand_over", "wearer", wearer.id, now)
    session.commit()


def asks(session: Session, actor: Actor, wearer: Wearer) -> bool:
    """Say whether this person still has to read about a hand-over."""
    row = _row(session, wearer)
    if row is None or wearer.handed_over_at is not None:
        return False
    side = _side(session, actor, wearer)
    return side is not None and _read_at(row, side) is None


def state(session: Session, wearer: Wearer, now: datetime) -> dict[str, Any]:
    """How far a hand-over is, for the practice's page."""
    row = _row(session, wearer)
    age = session.get_one(Practice, wearer.practice_id).handover_age
    return {
        "may_offer": row is None and age_on(wearer, now) >= age,
        "offered": row is not None and wearer.handed_over_at is None,
        "waits_for": _waits_for(session, wearer, row) if row else [],
        "done_on": wearer.handed_over_at.date().isoformat() if wearer.handed_over_at else None,
    }


def _row(session: Session, wearer: Wearer) -> Handover | None:
    return session.get(Handover, (wearer.practice_id, wearer.id))


def _side(session: Session, actor: Actor, wearer: Wearer) -> str | None:
    roles = roles_towards(session, actor, wearer)
    if Role.WEARER in roles:
        return "wearer"
    return "guardian" if Role.GUARDIAN in roles else None


def _read_at(row: Handover, side: str | None) -> datetime | None:
    return row.wearer_read_at if side == "wearer" else row.guardian_read_at


def _waits_for(session: Session, wearer: Wearer, row: Handover) -> list[str]:
    """Which sides have not read it yet. A wearer without guardians waits for nobody else."""
    waits = [] if row.wearer_read_at else ["wearer"]
    if row.guardian_read_at is None and guardians_of(session, wearer):
        waits.append("guardian")
    return waits
