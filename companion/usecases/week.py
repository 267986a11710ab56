"""The nights of the last week of which nothing was said: once past the first weeks, one tap tells them all.

Telling once a week is as good as telling each night: nothing here reproaches, and fewer than three nights are no
reason to ask.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from companion.diary.nights import EARLY_RISER, Night, NightState
from companion.usecases.first_weeks import is_new
from companion.usecases.story import Story

WEEK = 7
LEAST_NIGHTS = 3


def untold(story: Story, now: datetime) -> dict[str, Any] | None:
    """Return from which night until which one tap would speak, and of how many; None while it is not offered."""
    if is_new(story):
        return None
    over = [one for one in story.nights_so_far if story.habits.usual_wear(one.night)[1] - EARLY_RISER <= now]
    silent = [one.night.isoformat() for one in over[-WEEK:] if _is_silent(one)]
    if len(silent) < LEAST_NIGHTS:
        return None
    return {"since": silent[0], "until": silent[-1], "nights": len(silent)}


def _is_silent(night: Night) -> bool:
    return all(eye.state is NightState.UNKNOWN for eye in night.eyes.values())
