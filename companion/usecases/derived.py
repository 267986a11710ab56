"""The cache that lists read: one row a wearer, rewritten from the entries in the transaction that changed them."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import update
from sqlalchemy.orm import Session

from companion.diary.nights import summary
from companion.store.models import Wearer, WearerState
from companion.usecases.story import Story, load_story

LAST_NIGHTS = 14


def refresh_state(session: Session, wearer: Wearer, now: datetime) -> None:
    """Rewrite the wearer's row in the caller's transaction; the forecast in it is left to grow stale."""
    session.flush()
    session.refresh(wearer)
    derived = derive(load_story(session, wearer, now))
    session.merge(WearerState(practice_id=wearer.practice_id, wearer_id=wearer.id, **derived))


def outdate_forecast(session: Session, wearer: Wearer) -> None:
    """Make the stored forecast stale at once: something was signed or set that it was made without."""
    session.execute(
        update(Wearer)
        .where(Wearer.id == wearer.id)
        .values(signed_seq=Wearer.signed_seq + 1)
        .execution_options(synchronize_session=False)
    )


def derive(story: Story) -> dict[str, Any]:
    """The cached columns as a pure function of the diary. Of two eyes the one that was worn less counts."""
    counts = [summary(story.nights_so_far, eye, LAST_NIGHTS) for eye in story.eyes]
    last = story.entries[-1] if story.entries else None
    return {
        "seq": story.wearer.last_seq,
        "worn": min(one.worn for one in counts),
        "not_worn": max(one.not_worn for one in counts),
        "unknown": max(one.unknown for one in counts),
        "planned": counts[0].planned,
        "last_entry_at": last.received_at if last else None,
    }
