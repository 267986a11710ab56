"""A young wearer who signs in alone: which adults to tell, first of all. Whatever else is asked stays the same."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.store.models import Wearer
from companion.usecases.actor import Actor
from companion.usecases.guardianships import guardians_of
from companion.usecases.showing import is_minor


def young_alone(session: Session, actor: Actor, wearer: Wearer, now: datetime) -> dict[str, Any] | None:
    """Return the adults who look after a minor that is signed in as the wearer; None for anybody else.

    A number is there only where that adult gave one to sign in with.
    """
    if wearer.person_id is None or wearer.person_id != actor.person_id or not is_minor(wearer, now):
        return None
    adults = guardians_of(session, wearer)
    return {"adults": [{"name": one.name, "phone": one.phone} for one in adults]}
