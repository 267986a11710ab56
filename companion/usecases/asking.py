"""Whether to ask the family for a sight check, when, and what it is for: rarely, and only where it teaches.

No request is stored. The nights since the last check say whether one is due: two quiet days, then one night in
three, so that a request which nobody followed is not made again the next day.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from companion.common.eyes import Eye
from companion.common.moments import night_of
from companion.diary.nights import NightState
from companion.diary.sight import observations
from companion.diary.wear import LensPlace, LensState
from companion.usecases.story import Story

QUIET = timedelta(days=2)
EVERY_NIGHTS = 3
HANGS_ON_IT = frozenset({"target_holds", "below_target", "too_little_data"})
"""Reasons of an answer that checks can change."""
NO_CHECK = frozenset({"do_not_wear", "ask_clinic"})
"""Such an eye needs the practice, not a chart."""


def check_asked(
    story: Story,
    about: Mapping[str, Any] | None,
    answer: Mapping[str, Any],
    hour: str,
    lenses: Mapping[Eye, LensState],
    now: datetime,
) -> dict[str, str] | None:
    """Return *when* a check is asked for and *why*; None: it is not.

    when: ``now`` (this morning), ``this_evening`` or ``tomorrow_morning``. why: ``answer`` where a night off hangs
    on it, ``lasting`` where it only says how long sight lasts.
    """
    if about is None or hour not in ("morning", "evening") or _is_in(lenses) or not _is_due(story, now):
        return None
    asked = wanted(about, answer)
    return None if asked is None else asked | ({"when": "now"} if hour == "morning" else {})


def wanted(about: Mapping[str, Any], answer: Mapping[str, Any]) -> dict[str, str] | None:
    """Return the check that would teach something, whatever the hour and however lately one was asked for."""
    if {one["answer"] for one in answer["eyes"].values()} & NO_CHECK:
        return None
    reasons = {reason["key"] for one in answer["eyes"].values() for reason in one["reasons"]}
    asked = about["ask"]
    if asked is None and "too_little_data" not in reasons:
        return None
    return {
        "when": "this_evening" if asked is None else asked["check"],
        "why": "answer" if reasons & HANGS_ON_IT else "lasting",
    }


def _is_in(lenses: Mapping[Eye, LensState]) -> bool:
    return any(state.place is LensPlace.IN for state in lenses.values())


def _is_due(story: Story, now: datetime) -> bool:
    """Say whether this night is one on which to ask: from the evening to the next noon it is the same one."""
    home, split = story.habits.home, story.habits.split
    night = night_of(now, home, split)
    looks = [look.at for look in observations(story.standing, is_child=False) if look.at <= now]
    if looks:
        quiet = now - max(looks) < QUIET
        nights = (night - night_of(max(looks), home, split)).days - QUIET.days
        return not quiet and nights >= 0 and nights % EVERY_NIGHTS == 0
    worn = [one.night for one in story.nights if any(eye.state is NightState.WORN for eye in one.eyes.values())]
    return bool(worn) and (night - min(worn)).days % EVERY_NIGHTS == 0
