"""The nights of the last week of which nothing was said: once past the first weeks, one tap tells them all.

Telling once a week is as good as telling each night: nothing here reproaches, and fewer than three nights are no
reason to ask. Nights in which an eye was held are never told so: nobody may have worn a lens in them.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.diary.nights import EARLY_RISER, Night, NightState
from companion.usecases.first_weeks import is_new
from companion.usecases.raising import held_since
from companion.usecases.story import Story

WEEK = 7
LEAST_NIGHTS = 3


def untold(session: Session, story: Story, now: datetime) -> dict[str, Any] | None:
    """Return from which night until which one tap would speak, and of how many; None while it is not offered."""
    if is_new(story):
        return None
    usual_wear = story.habits.usual_wear
    lately = story.nights_so_far[-WEEK - 1 :]
    over = [one for one in lately if usual_wear(one.night)[1] - EARLY_RISER <= now][-WEEK:]
    silent = [one.night for one in over if _is_silent(one)]
    if len(silent) < LEAST_NIGHTS or held_since(session, story.wearer, usual_wear(silent[0])[0]):
        return None
    return {"since": silent[0].isoformat(), "until": silent[-1].isoformat(), "nights": len(silent)}


def _is_silent(night: Night) -> bool:
    return all(eye.state is NightState.UNKNOWN for eye in night.eyes.values())
