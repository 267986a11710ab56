"""What wear spans say about nights: worn hours, usual hours, nights off, and which night is tonight.

Works on plain spans and dates. A span belongs whole to the night of the evening on which the lens went in, in the
zone where it went in; the one who builds the span knows that zone and names the night. Nights off are counted
from instants, so that neither a flight nor a clock change makes or hides one.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from statistics import median
from zoneinfo import ZoneInfo

from companion.common.moments import NOON, at_wall_clock, hours_between, night_of, utc

WORN_HOURS = 3.0
"""From so many hours on, a night counts as worn."""
USUAL_NIGHTS = 14
LONGEST_WEAR_HOURS = 36.0
"""No record holds longer wear: after that the removal was not logged."""
LAST_CALL = timedelta(hours=8)
"""So long before its end (at 04:00 for a night that ends at noon) a night can no longer be tonight."""
STEPPED_OVER = 3
_HALF_DAY = timedelta(hours=12)
_NORMAL_DAY_OFF = timedelta(hours=15)


@dataclass(frozen=True)
class WearSpan:
    """One lens in one eye: in at ``start``, out at ``end`` (None: still in)."""

    start: datetime
    end: datetime | None
    night: date

    def hours(self, until: datetime | None = None) -> float:
        """Return the hours worn, up to ``until``; a lens still in needs it."""
        ends = [end for end in (self.end, until) if end is not None]
        return max(0.0, hours_between(self.start, min(ends)))


def joined(spans: Iterable[WearSpan]) -> tuple[WearSpan, ...]:
    """Return the spans in order, those that touch made one. The night is that of the first."""
    out: list[WearSpan] = []
    for span in sorted(spans, key=lambda one: one.start):
        if out and out[-1].end is not None and out[-1].end == span.start:
            out[-1] = replace(out[-1], end=span.end)
        else:
            out.append(span)
    return tuple(out)


def worn_hours(spans: Iterable[WearSpan], until: datetime | None = None) -> dict[date, float]:
    """Return the hours worn in each night that has any span, up to ``until``; a lens still in needs it."""
    hours: dict[date, float] = {}
    for span in spans:
        hours[span.night] = hours.get(span.night, 0.0) + span.hours(until)
    return hours


def worn_nights(hours: Mapping[date, float]) -> frozenset[date]:
    return frozenset(night for night, worn in hours.items() if worn >= WORN_HOURS)


@dataclass(frozen=True)
class UsualHours:
    """When this eye's lens usually goes in and comes out, as wall-clock time after the noon of its night."""

    insertion: timedelta = timedelta(hours=9, minutes=30)
    removal: timedelta = timedelta(hours=18, minutes=30)

    def insertion_on(self, night: date, zone: ZoneInfo) -> datetime:
        return _after_noon(night, self.insertion, zone)

    def removal_on(self, night: date, zone: ZoneInfo) -> datetime:
        return _after_noon(night, self.removal, zone)


def _after_noon(night: date, offset: timedelta, zone: ZoneInfo) -> datetime:
    clock = datetime.combine(night, NOON) + offset
    return at_wall_clock(clock.date(), clock.time(), zone)


def usual_hours(spans: Sequence[WearSpan], as_of: datetime, zone: ZoneInfo) -> UsualHours:
    """Return the medians over the last worn nights that are over at ``as_of``; without any, the defaults."""
    over = [span for span in spans if span.end is not None and span.end <= as_of]
    nights = sorted(worn_nights(worn_hours(over, as_of)))[-USUAL_NIGHTS:]
    if not nights:
        return UsualHours()
    first: dict[date, timedelta] = {}
    last: dict[date, timedelta] = {}
    for span in over:
        noon = datetime.combine(span.night, NOON)
        first.setdefault(span.night, _wall(span.start, zone) - noon)
        last[span.night] = _wall(span.end or as_of, zone) - noon
    usual = UsualHours(_median([first[night] for night in nights]), _median([last[night] for night in nights]))
    worn = usual.removal - usual.insertion
    return usual if timedelta(0) < worn < timedelta(days=1) else UsualHours()


def _median(offsets: list[timedelta]) -> timedelta:
    return timedelta(minutes=round(median(offset / timedelta(minutes=1) for offset in offsets)))


def _wall(moment: datetime, zone: ZoneInfo) -> datetime:
    return moment.astimezone(zone).replace(tzinfo=None)


def under_way(spans: Sequence[WearSpan], as_of: datetime) -> WearSpan | None:
    """Return the span whose lens is in at ``as_of``, if there is one."""
    for span in spans:
        if span.start <= as_of and (span.end is None or span.end > as_of) and not _is_forgotten(span, as_of):
            return span
    return None


def _is_forgotten(span: WearSpan, as_of: datetime) -> bool:
    return span.end is None and hours_between(span.start, as_of) > LONGEST_WEAR_HOURS


def known_spans(
    spans: Sequence[WearSpan], as_of: datetime, usual: UsualHours, zone: ZoneInfo
) -> tuple[WearSpan, ...]:
    """Return what is known at ``as_of``: later spans dropped, a span under way ended at the usual removal time.

    A lens that is in past its usual time ends at ``as_of``; one whose removal nobody logged for longer than a
    record may hold came out as usual.
    """
    known: list[WearSpan] = []
    for span in spans:
        if span.start > as_of:
            continue
        if _is_forgotten(span, as_of):
            span = replace(span, end=max(usual.removal_on(span.night, zone), span.start))
        elif span.end is None or span.end > as_of:
            end = max(usual.removal_on(span.night, zone), utc(as_of))
            span = replace(span, end=end)
        known.append(span)
    return tuple(known)


def tonight(as_of: datetime, zone: ZoneInfo, taken: Container[date], split: time = NOON) -> date:
    """Return the first night that ends after ``as_of`` and is not ``taken`` (worn, or being worn, by any eye).

    From 04:00 on, the night just ending no longer counts; for another split hour, from eight hours before it.
    """
    night = night_of(as_of, zone, split)
    clock = as_of.astimezone(zone).time()
    to_the_split = (datetime.combine(night, split) - datetime.combine(night, clock)) % timedelta(days=1)
    if timedelta(0) < to_the_split <= LAST_CALL:
        night += timedelta(days=1)
    while night in taken:
        night += timedelta(days=1)
    return night


def nights_between(removed: datetime, inserted: datetime) -> int:
    """Return how many nights were left out between a removal and an insertion.

    The usual day without lenses lasts some 15 hours and each night left out adds 24: the nearest whole number
    leaves room of half a day either way for late hours, flights and clock changes.
    """
    spare = utc(inserted) - utc(removed) - _NORMAL_DAY_OFF + _HALF_DAY
    return max(0, spare // timedelta(days=1))


@dataclass(frozen=True)
class Diary:
    """What is known of one eye's nights at a moment, silence told apart from a night off."""

    worn: frozenset[date]
    touched: frozenset[date]
    """Nights with any wear at all."""
    off: frozenset[date]
    first: date | None
    """The first night that the record speaks for; None: it speaks for none."""
    complete: bool

    def is_unknown(self, night: date) -> bool:
        if self.complete or self.first is None or night < self.first:
            return False
        return night not in self.touched and night not in self.off

    def unknown_before(self, night: date, count: int) -> tuple[date, ...]:
        """Return the unknown nights among the ``count`` nights before ``night``, oldest first."""
        days = (night - timedelta(days=n) for n in range(count, 0, -1))
        return tuple(day for day in days if self.is_unknown(day))

    def off_before(self, night: date) -> int:
        """Return how many nights, up to the one before ``night``, are known as not worn since the last that was.

        Up to three silent nights in a row are stepped over, not counted: silence does not end a long break.
        """
        count = silent = 0
        day = night - timedelta(days=1)
        floor = self.first if self.first is not None else min(self.off, default=night)
        while day >= floor and day not in self.worn and silent <= STEPPED_OVER:
            if self.is_unknown(day):
                silent += 1
            else:
                count, silent = count + 1, 0
            day -= timedelta(days=1)
        return count


@dataclass(frozen=True)
class NightsOff:
    """Nights off before tonight. ``known`` leaves out silence; ``possible`` counts every silent night as off."""

    known: int
    possible: int


def nights_off(diary: Diary, last_removal: datetime | None, night: date, insertion: datetime) -> NightsOff:
    """Count the nights off before ``night``, whose lens would go in at ``insertion``.

    ``last_removal`` ends the last worn night; the count goes by instants from there. Without one, by dates.
    """
    by_dates = diary.off_before(night)
    if last_removal is None:
        return NightsOff(by_dates, by_dates)
    by_instants = nights_between(last_removal, insertion)
    silent = diary.unknown_before(night, by_instants + 1)
    return NightsOff(min(by_dates, by_instants) if silent else by_instants, by_instants)
