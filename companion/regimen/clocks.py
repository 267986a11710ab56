"""Two clocks of lens care: how long peroxide has to work, and how long a lens has been stuck.

Both run on instants, so that no clock change and no flight makes either too short. An end that is shown to a
person is shown late rather than early: a peroxide soak that is over too soon burns, a stuck lens that is counted
too slowly waits too long.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from companion.common.moments import utc
from companion.regimen.care import StuckTimes

MINUTE = timedelta(minutes=1)


class SoakState(StrEnum):
    NONE = "none"
    """Nothing says that the lenses are in peroxide: nothing says that they are ready either."""
    WAITING = "waiting"
    READY = "ready"
    AGAIN = "again"
    """Too long ago: the fluid has lost its strength, and the lenses want a fresh soak first."""


@dataclass(frozen=True)
class Soak:
    state: SoakState
    started: datetime | None = None
    ready_at: datetime | None = None


def soak(
    started: datetime | None, put_in: datetime | None, now: datetime, hours: int, stored_days: int, where: ZoneInfo
) -> Soak:
    """Say whether the lenses that went into peroxide at ``started`` are ready.

    ``put_in`` is when a lens last went into an eye: after that, this soak is over.
    """
    if started is None or (put_in is not None and put_in >= started):
        return Soak(SoakState.NONE)
    ready_at = readable_end(started + timedelta(hours=hours), where)
    if now < ready_at:
        return Soak(SoakState.WAITING, started, ready_at)
    fresh = now < ready_at + timedelta(days=stored_days)
    return Soak(SoakState.READY if fresh else SoakState.AGAIN, started, ready_at)


def readable_end(moment: datetime, where: ZoneInfo) -> datetime:
    """Return the first full minute from ``moment`` on that a clock on the wall cannot show too early.

    Where clocks go back, one hour comes twice: an end in its second pass would be read off in the first, an hour
    too soon, and so waits until the hour is over.
    """
    end = utc(moment)
    if end.second or end.microsecond:
        end = end.replace(second=0, microsecond=0) + MINUTE
    while end.astimezone(where).fold:
        end += MINUTE
    return end


class Stage(StrEnum):
    LOOSEN = "loosen"
    CALL = "call"
    REPORT = "report"


@dataclass(frozen=True)
class Stuck:
    """A lens that does not move."""

    started: datetime
    call_at: datetime
    report_at: datetime
    stage: Stage


def stuck(started: datetime, now: datetime, times: StuckTimes) -> Stuck:
    """Say how far the clock has run: loosen it, call the practice, or report it as urgent."""
    start = utc(started).replace(second=0, microsecond=0)
    call_at = start + timedelta(minutes=times.call_after_min)
    report_at = start + timedelta(minutes=times.report_after_min)
    stage = Stage.REPORT if now >= report_at else Stage.CALL if now >= call_at else Stage.LOOSEN
    return Stuck(start, call_at, report_at, stage)


def stuck_often(nights: Iterable[date], tonight: date, times: StuckTimes) -> bool:
    """Say whether a lens was stuck after so many of the last nights that the practice should look at the fit."""
    since = tonight - timedelta(days=times.often_within_days)
    return len({night for night in nights if since < night <= tonight}) >= times.often_mornings
