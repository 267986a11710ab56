"""Wear as intervals of real time, and the nights off between them, for the science and for *tonight*.

Where a night is worn but an end is not logged (or waits to be asked about), the usual time stands in for it and
the interval says so: a night known to be worn must not vanish because one tap was missed. Nights off are counted
from instants, evening to evening, so that neither a flight nor a clock change makes or hides one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from math import floor

from companion.common.eyes import Eye
from companion.common.moments import hours_between
from companion.diary.nights import Habits, Night, NightState, Source
from companion.diary.wear import LONGEST_USUAL, Wear

USUAL_LENGTH = timedelta(hours=8)
"""Stands in where not even the usual hours fit: safety guidance targets 8 hours a night."""
HOURS_UNTIL_A_NIGHT_IS_OFF = 30
"""A night counts as off once it has no sense to begin it: 21:30 one evening to about 04:00 after the next."""


@dataclass(frozen=True)
class WearInterval:
    """One time that a lens was in an eye."""

    night: date
    start: datetime
    end: datetime | None
    """None: still in."""
    start_assumed: bool
    end_assumed: bool
    source: Source


@dataclass(frozen=True)
class Gap:
    """Time without the lens, in which at least one night was off."""

    out_at: datetime
    in_at: datetime | None
    """None: the gap goes on."""
    nights_off: int
    unknown_nights: int
    """How many of them nobody logged: the lens may have been in."""


def wear_intervals(nights: Iterable[Night], eye: Eye, habits: Habits, now: datetime) -> tuple[WearInterval, ...]:
    """Return the wear of one eye in the worn nights, in order of time, without overlaps.

    The last interval has no end if its lens went in at most 20 hours before ``now`` and nobody logged it out.
    """
    worn = [
        (wear, of_eye.source or Source.LOGGED)
        for night in sorted(nights, key=lambda one: one.night)
        if (of_eye := night.eyes[eye]).state is NightState.WORN
        for wear in of_eye.wears
    ]
    spans = sorted((_with_ends(wear, source, habits) for wear, source in worn), key=lambda span: span.start)
    made: list[WearInterval] = []
    for span in spans:
        last = made[-1] if made else None
        if last is not None and last.end is not None and last.end > span.start:
            if last.end_assumed:
                made[-1] = replace(last, end=span.start)
            else:
                span = replace(span, start=last.end, start_assumed=True)
        if made and made[-1].end == made[-1].start:
            made.pop()
        if span.end is None or span.end > span.start:
            made.append(span)
    if made and _still_in(worn, made[-1], now):
        made[-1] = replace(made[-1], end=None, end_assumed=False)
    return tuple(made)


def _with_ends(wear: Wear, source: Source, habits: Habits) -> WearInterval:
    usual_in, usual_out = habits.usual_wear(wear.night)
    doubtful = wear.start is not None and wear.end is not None and wear.hours is None
    start, end = wear.start, None if doubtful else wear.end
    if start is None:
        start = usual_in if end is None or usual_in < end else end - USUAL_LENGTH
    if end is None:
        end = usual_out if usual_out - start >= timedelta(hours=1) else start + USUAL_LENGTH
    return WearInterval(
        night=wear.night,
        start=start,
        end=end,
        start_assumed=wear.start is None or wear.as_planned,
        end_assumed=wear.end is None or doubtful or wear.as_planned,
        source=source,
    )


def _still_in(worn: Sequence[tuple[Wear, Source]], last: WearInterval, now: datetime) -> bool:
    return now - last.start <= LONGEST_USUAL and any(
        wear.start == last.start and wear.end is None and not wear.as_planned for wear, _ in worn
    )


def nights_off_between(evening: datetime, next_evening: datetime) -> int:
    """Return how many nights were off between two times that a lens went in."""
    return max(0, floor(hours_between(evening, next_evening) / 24 + 0.5) - 1)


def nights_off_since(evening: datetime, now: datetime) -> int:
    """Return how many nights have been off since a lens last went in."""
    return max(0, floor((hours_between(evening, now) - HOURS_UNTIL_A_NIGHT_IS_OFF) / 24) + 1)


def gaps(intervals: Sequence[WearInterval], nights: Sequence[Night], eye: Eye, now: datetime) -> tuple[Gap, ...]:
    """Return the gaps of at least one night off in ``intervals``; the last may go on until ``now``."""
    unknown = [night.night for night in nights if night.eyes[eye].state is NightState.UNKNOWN]
    found = []
    for i, span in enumerate(intervals):
        following = intervals[i + 1] if i + 1 < len(intervals) else None
        if span.end is None or span.end > now:
            continue
        if following is not None:
            off, until = nights_off_between(span.start, following.start), following.night
        else:
            off, until = nights_off_since(span.start, now), date.max
        if off:
            unlogged = sum(span.night < night < until for night in unknown)
            found.append(Gap(span.end, following.start if following else None, off, min(off, unlogged)))
    return tuple(found)
