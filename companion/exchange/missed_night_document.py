"""After a night without the lens: how sight should be today, and what to do. Owns the document's shape."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from companion.common.moments import at_wall_clock
from companion.exchange.nights_ahead import (
    eyes_now,
    hours_at,
    nights_off_now,
    nights_until,
    outlook_json,
    rounded,
    said_at,
    target_of,
)
from companion.exchange.wearer_course import WearerCourse
from companion.fade.missed_night import after_missed_night

LOOKED_AT = timedelta(days=8)


def missed_night(wearer: WearerCourse) -> dict[str, Any] | None:
    """Return what to expect until a lens goes in again; None where no night off is known, or a lens is in."""
    off = nights_off_now(wearer, silence_is_off=False)
    if not off or any(course.under_way is not None for course in wearer.eyes.values()):
        return None
    record, eyes = wearer.record, tuple(wearer.eyes)
    ahead = nights_until(wearer, wearer.as_of + LOOKED_AT)
    today = wearer.as_of.astimezone(record.zone).date()
    target_at = at_wall_clock(today, record.target.until_local, record.zone)
    found = after_missed_night(
        eyes_now(wearer),
        ahead.nights,
        target_of(record),
        hours_at(wearer, target_at),
        nights_off=off,
        better_eye=record.target.better_eye,
    )
    return {
        "nights_off": off,
        "moments": [
            {
                "at": said_at(wearer, one.at_h),
                "meets_target": rounded(one.chance),
                "eyes": {eye.value: outlook_json(mine) for eye, mine in zip(eyes, one.eyes, strict=True)},
            }
            for one in found.moments
        ],
        "good_until": None if found.good_until_h is None else said_at(wearer, found.good_until_h),
        "good_again": None if found.good_again is None else ahead.dates[found.good_again].isoformat(),
        "todo": [one.value for one in found.todo],
    }
