"""A day that matters: what to do until then and how sight should be, from a followed wearer.

Owns the document's shape. Holds and stops come before all this and are the caller's; nothing here releases a night
or says that anybody is fit to drive.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from companion.exchange.nights_ahead import (
    NightsAhead,
    eyes_now,
    hours_at,
    leave_of,
    nights_until,
    outlook_json,
    rounded,
    said_at,
    target_of,
)
from companion.exchange.wearer_course import WearerCourse
from companion.fade.day_ahead import DayAhead, Leave, Window, day_ahead


@dataclass(frozen=True)
class DayOfNote:
    """From when to when a day matters, and whether anybody drives."""

    start: datetime
    end: datetime
    driving: bool = False


def day_document(
    wearer: WearerCourse, day: DayOfNote, others: Sequence[DayOfNote] = (), *, may_free: bool = True
) -> dict[str, Any]:
    """Return the nights until the day, which of them it rests on, the last that may stay free, checks and sight.

    ``others`` are days that matter as well and must hold too. ``may_free`` is false while there is too little data
    to free any night.
    """
    ahead = nights_until(wearer, max(one.end for one in (day, *others)))
    leave = leave_of(wearer)
    found = _look(wearer, ahead, day, others, leave if may_free else replace(leave, longest_gap_nights=0))
    rests = _rests_on(wearer, ahead, day)
    eyes = tuple(wearer.eyes)
    until = hours_at(wearer, day.end)
    return {
        "driving": day.driving,
        "nights": [
            {
                "night": night.isoformat(),
                "worn": place in found.wear,
                "planned": one.planned,
                "matters": night in rests,
            }
            for place, (night, one) in enumerate(zip(ahead.dates, ahead.nights, strict=True))
            if one.start_h < until
        ],
        "rests_on": [night.isoformat() for night in rests],
        "last_free": None if found.last_free is None else ahead.dates[found.last_free].isoformat(),
        "checks": [{"when": one.when.value, "at": said_at(wearer, one.at_h)} for one in found.checks],
        "meets_target": rounded(found.chance),
        "moments": [
            {
                "at": said_at(wearer, one.at_h),
                "meets_target": rounded(one.chance),
                "eyes": {eye.value: outlook_json(mine) for eye, mine in zip(eyes, one.eyes, strict=True)},
            }
            for one in found.moments
        ],
        "notes": [one.value for one in found.notes],
    }


def tonight_matters(wearer: WearerCourse, days: Collection[DayOfNote]) -> bool:
    """Say whether a day that matters rests on tonight."""
    return any(
        wearer.night in _rests_on(wearer, nights_until(wearer, day.end), day)
        for day in days
        if day.end > wearer.as_of
    )


def _rests_on(wearer: WearerCourse, ahead: NightsAhead, day: DayOfNote) -> list[date]:
    """Return the nights that are worn for this day alone: what a plan that asks for none would still keep."""
    unplanned = NightsAhead(ahead.dates, tuple(replace(one, planned=False) for one in ahead.nights))
    return [ahead.dates[place] for place in _look(wearer, unplanned, day, (), Leave(may_skip=False)).wear]


def _look(
    wearer: WearerCourse, ahead: NightsAhead, day: DayOfNote, others: Sequence[DayOfNote], leave: Leave
) -> DayAhead:
    return day_ahead(
        eyes_now(wearer),
        ahead.nights,
        _window(wearer, day),
        target_of(wearer.record),
        leave,
        better_eye=wearer.record.target.better_eye,
        also=[_window(wearer, one) for one in others],
    )


def _window(wearer: WearerCourse, day: DayOfNote) -> Window:
    return Window(hours_at(wearer, day.start), hours_at(wearer, day.end), day.driving)
