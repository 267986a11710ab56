"""Instants, zones and nights.

An instant is an aware datetime. A night belongs to the date of its evening: from the split hour (noon, or the
wearer's own) of that date to the split hour of the next, in the zone where the lenses went in. Durations come
from instants, never from wall clocks.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

NOON = time(12)


def is_aware(moment: datetime) -> bool:
    """Say whether ``moment`` names an instant."""
    return moment.utcoffset() is not None


def utc(moment: datetime) -> datetime:
    """Return the same instant in UTC. Raises ValueError for a naive datetime."""
    if not is_aware(moment):
        raise ValueError("naive datetime")
    return moment.astimezone(UTC)


def parse_instant(text: str) -> datetime:
    """Read ISO 8601 with an offset. Raises ValueError for anything else, a naive time included."""
    moment = datetime.fromisoformat(text)
    if not is_aware(moment):
        raise ValueError("no offset")
    return moment


@lru_cache(maxsize=600)
def zone(name: str) -> ZoneInfo:
    """Return the IANA zone. Raises ValueError for an unknown or unsafe name."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        raise ValueError(f"unknown zone {name!r}") from error


def at_wall_clock(day: date, clock: time, where: ZoneInfo) -> datetime:
    """Return the UTC instant at which the clock on the wall shows ``clock`` on ``day``.

    Turned into UTC at once, so that nobody adds durations to local times. A time that a clock change skips
    counts as the instant as far past the gap; one that comes twice, as the first.
    """
    return datetime.combine(day, clock, tzinfo=where).astimezone(UTC)


def night_of(moment: datetime, where: ZoneInfo, split: time = NOON) -> date:
    """Return the date of the evening to which ``moment`` belongs, in the zone ``where``."""
    local = moment.astimezone(where)
    return local.date() if local.time() >= split else local.date() - timedelta(days=1)


def night_bounds(night: date, where: ZoneInfo, split: time = NOON) -> tuple[datetime, datetime]:
    """Return the UTC instants at which ``night`` starts (inclusive) and ends (exclusive)."""
    return at_wall_clock(night, split, where), at_wall_clock(night + timedelta(days=1), split, where)


def hours_between(start: datetime, end: datetime) -> float:
    """Return the hours from ``start`` to ``end`` as real time passed, whatever the clocks did."""
    return (utc(end) - utc(start)) / timedelta(hours=1)
