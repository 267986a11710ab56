"""When somebody at the practice is on duty: opening hours by weekday on the practice's own clock, closed days, and
the hours on call.

A family that reports a red eye at night must see at once that nobody will look before morning. Spans of a day are
turned into instants before anything is compared, so a clock change neither opens nor closes the practice: a start
that the change skips moves as far past it, an hour that comes twice counts the first time.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from itertools import pairwise
from zoneinfo import ZoneInfo

from companion.common.errors import InvalidInput, Problem
from companion.common.moments import at_wall_clock, utc

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MIDNIGHT = "24:00"
"""The end of a day that is open until midnight."""
LONGEST_LOOK_AHEAD_DAYS = 400

_CLOCK = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]")


@dataclass(frozen=True)
class Span:
    """Open from one wall clock time to another of the same day; ``until`` None is midnight."""

    since: time
    until: time | None

    def ends_by(self, clock: time) -> bool:
        return self.until is not None and self.until <= clock


@dataclass(frozen=True)
class OpeningHours:
    """A week of spans, Monday first, and dates on which all is closed."""

    week: tuple[tuple[Span, ...], ...] = ((),) * 7
    closed: frozenset[date] = frozenset()

    @classmethod
    def from_plain(cls, weekly: Mapping[str, object], closed: Iterable[object] = ()) -> OpeningHours:
        """Read ``{"mon": [["08:30", "12:00"], ["13:00", "24:00"]], ...}`` and ISO dates; a day left out is closed.

        Raises InvalidInput with every problem, each under its day.
        """
        problems = [
            Problem("hours_unknown_day", str(day)[:20], {"allowed": ", ".join(WEEKDAYS)})
            for day in weekly
            if day not in WEEKDAYS
        ]
        week: list[tuple[Span, ...]] = []
        for day in WEEKDAYS:
            try:
                week.append(_day_from_plain(weekly.get(day, ()), day))
            except InvalidInput as error:
                problems += error.problems
        dates = set()
        for i, text in enumerate(closed):
            try:
                dates.add(date.fromisoformat(text) if isinstance(text, str) else _no_date())
            except ValueError:
                problems.append(Problem("hours_not_a_date", f"closed[{i}]"))
        if problems:
            raise InvalidInput(*problems)
        return cls(tuple(week), frozenset(dates))

    @property
    def ever_open(self) -> bool:
        return any(self.week)


class Duty(StrEnum):
    """Who is there now."""

    OPEN = "open"
    ON_CALL = "on_call"
    """The practice is shut, and somebody can be reached."""
    NOBODY = "nobody"


@dataclass(frozen=True)
class Rota:
    """When a practice is open, and when it is shut and somebody is on call."""

    hours: OpeningHours
    on_call: OpeningHours
    """Empty where nobody of the plan for these hours can be reached: hours alone answer no call."""
    where: ZoneInfo

    def at(self, now: datetime) -> Duty:
        if on_duty(self.hours, self.where, now):
            return Duty.OPEN
        return Duty.ON_CALL if on_duty(self.on_call, self.where, now) else Duty.NOBODY

    def next(self, now: datetime) -> datetime | None:
        """Return the first instant from ``now`` on with somebody on duty; None if there is none in sight."""
        both = (next_opening(hours, self.where, now) for hours in (self.hours, self.on_call))
        return min((moment for moment in both if moment is not None), default=None)

    def until(self, now: datetime) -> datetime | None:
        """Return until when somebody is on duty without a break; None if nobody is, or if no end is in sight."""
        return next_closing((self.hours, self.on_call), self.where, now)


def on_duty(hours: OpeningHours, where: ZoneInfo, now: datetime) -> bool:
    """Say whether ``now`` is within the hours."""
    return any(start <= now < end for start, end in _open_spans(hours, where, now, now))


def next_opening(hours: OpeningHours, where: ZoneInfo, now: datetime) -> datetime | None:
    """Return the first UTC instant from ``now`` on at which the practice is open; None if there is none in sight.

    That is ``now`` itself while it is open.
    """
    far = now + timedelta(days=LONGEST_LOOK_AHEAD_DAYS)
    spans = _open_spans(hours, where, now, far)
    return next((max(start, utc(now)) for start, end in spans if end > now), None)


def next_closing(hours: Sequence[OpeningHours], where: ZoneInfo, now: datetime) -> datetime | None:
    """Return the first UTC instant after ``now`` that is within none of the hours; None if ``now`` is within none
    already, or if no such instant is in sight.

    Where one span ends and another begins, of whichever hours, nobody has left.
    """
    far = now + timedelta(days=LONGEST_LOOK_AHEAD_DAYS)
    closes = _end_of_spans(hours, where, now)
    while closes is not None and closes <= far:
        later = _end_of_spans(hours, where, closes)
        if later is None:
            return closes
        closes = later
    return None


def has_opened(hours: OpeningHours, where: ZoneInfo, after: datetime, until: datetime) -> bool:
    """Say whether the practice opened its door between two instants, the later one included."""
    return any(after < start <= until for start, _ in _open_spans(hours, where, after, until))


def open_minutes(hours: OpeningHours, where: ZoneInfo, start: datetime, end: datetime) -> float:
    """Return for how many minutes between two instants the practice was open."""
    spans = _open_spans(hours, where, start, end)
    inside = (min(closes, end) - max(opens, start) for opens, closes in spans)
    return sum(max(length / timedelta(minutes=1), 0.0) for length in inside)


def _end_of_spans(hours: Sequence[OpeningHours], where: ZoneInfo, now: datetime) -> datetime | None:
    """Return the latest end of the spans that ``now`` is within; None if it is within none."""
    spans = (span for one in hours for span in _open_spans(one, where, now, now))
    return max((end for start, end in spans if start <= now < end), default=None)


def _open_spans(
    hours: OpeningHours, where: ZoneInfo, start: datetime, end: datetime
) -> Iterator[tuple[datetime, datetime]]:
    """Yield the open spans, as UTC instants in order, of every day that ``start`` to ``end`` touches."""
    day, last = start.astimezone(where).date(), end.astimezone(where).date()
    while day <= last:
        if day not in hours.closed:
            for span in hours.week[day.weekday()]:
                tomorrow = day + timedelta(days=1)
                closes = at_wall_clock(tomorrow, time(0), where) if span.until is None else None
                closes = closes or at_wall_clock(day, span.until or time(0), where)
                yield at_wall_clock(day, span.since, where), closes
        day += timedelta(days=1)


def _day_from_plain(value: object, day: str) -> tuple[Span, ...]:
    if not isinstance(value, list | tuple):
        raise InvalidInput(Problem("hours_not_spans", day))
    spans = []
    for i, pair in enumerate(value):
        path = f"{day}[{i}]"
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            raise InvalidInput(Problem("hours_not_spans", path))
        since = _clock(pair[0], path)
        until = None if pair[1] == MIDNIGHT else _clock(pair[1], path)
        if until is not None and until <= since:
            raise InvalidInput(Problem("hours_end_before_start", path))
        spans.append(Span(since, until))
    spans.sort(key=lambda span: span.since)
    if any(not one.ends_by(following.since) for one, following in pairwise(spans)):
        raise InvalidInput(Problem("hours_overlap", day))
    return tuple(spans)


def _clock(value: object, path: str) -> time:
    if isinstance(value, str) and _CLOCK.fullmatch(value):
        return time.fromisoformat(value)
    raise InvalidInput(Problem("hours_not_a_clock", path))


def _no_date() -> date:
    raise ValueError
