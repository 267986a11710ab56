"""From dates to the science's hours and back: a followed wearer's eyes as they are now, and the nights to come.

Both eyes are put on one clock whose hour 0 is the wearer's ``as_of``. Knows no document.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from companion.common.moments import at_wall_clock, hours_between, night_bounds, utc
from companion.exchange.record import WearerRecord
from companion.exchange.wearer_course import WearerCourse, said
from companion.fade.day_ahead import ComingNight, EyeNow, Leave
from companion.fade.outlook import Outlook, Range, Target
from companion.regimen.nights import nights_off


@dataclass(frozen=True)
class NightsAhead:
    """The nights from now on, in order: ``dates`` names each of ``nights``."""

    dates: tuple[date, ...]
    nights: tuple[ComingNight, ...]


def hours_at(wearer: WearerCourse, moment: datetime) -> float:
    return hours_between(wearer.as_of, moment)


def said_at(wearer: WearerCourse, hours: float) -> str:
    """Write the instant so many hours from now."""
    return said(wearer.as_of + timedelta(seconds=round(hours * 3600)), wearer.record)


def eyes_now(wearer: WearerCourse) -> list[EyeNow]:
    """Return each eye as its fit knows it, at hour 0."""
    return [EyeNow(course.draws, replace(course.fit.state, at_h=0.0)) for course in wearer.eyes.values()]


def target_of(record: WearerRecord) -> Target:
    return Target(record.target.acuity_logmar, record.target.distance_m)


def target_after(record: WearerRecord, night: date) -> datetime:
    """Return when the everyday target falls on the day after a night."""
    return at_wall_clock(night + timedelta(days=1), record.target.until_local, record.zone)


def nights_until(wearer: WearerCourse, end: datetime) -> NightsAhead:
    """Return the nights that begin before ``end``: one under way in every eye first, then from tonight on.

    Of two eyes the later hour in and the earlier hour out count: never more wear than either has.
    """
    record, courses = wearer.record, tuple(wearer.eyes.values())
    dates: list[date] = []
    nights: list[ComingNight] = []
    under_way = [course.under_way for course in courses]
    free_from = [course.free_from for course in courses]
    if all(under_way) and all(free_from):
        spans = [one for one in under_way if one is not None]
        ends = [one for one in free_from if one is not None]
        dates.append(max(one.night for one in spans))
        nights.append(_night(wearer, dates[-1], max(one.start for one in spans), min(ends), planned=True))
    known = (span.end for course in courses for span in course.known if span.end is not None)
    earliest = max((wearer.as_of, *known))
    first_evening = min((one for one in (course.diary.first for course in courses) if one), default=None)
    night = wearer.night
    while True:
        start = max(earliest, *(course.usual.insertion_on(night, record.zone) for course in courses))
        if start >= utc(end):
            return NightsAhead(tuple(dates), tuple(nights))
        out = min(course.usual.removal_on(night, record.zone) for course in courses)
        if out > start:
            dates.append(night)
            planned = record.plan.is_wear_night(night, first_evening)
            nights.append(_night(wearer, night, start, out, planned=planned))
        night += timedelta(days=1)


def _night(wearer: WearerCourse, night: date, start: datetime, end: datetime, *, planned: bool) -> ComingNight:
    target_h = hours_at(wearer, target_after(wearer.record, night))
    return ComingNight(hours_at(wearer, start), hours_at(wearer, end), planned, target_h)


def nights_off_now(wearer: WearerCourse, *, silence_is_off: bool) -> int:
    """Return the nights off before tonight, of the eye that has most of them."""
    counts = []
    for course in wearer.eyes.values():
        insertion = max(course.usual.insertion_on(wearer.night, wearer.record.zone), utc(wearer.as_of))
        removals = [span.end for span in course.known if span.night in course.diary.worn]
        off = nights_off(course.diary, removals[-1] if removals else None, wearer.night, insertion)
        counts.append(off.possible if silence_is_off else off.known)
    return max(counts)


def leave_of(wearer: WearerCourse) -> Leave:
    """Return what is signed about skipping, in hours from now."""
    record, clearance = wearer.record, wearer.record.clearance
    until = None if clearance.until is None else night_bounds(clearance.until, record.zone, record.split)[1]
    return Leave(
        clearance.may_skip,
        clearance.longest_gap_nights,
        nights_off_now(wearer, silence_is_off=True),
        float("inf") if until is None else hours_at(wearer, until),
    )


# -- JSON ------------------------------------------------------------------------------------------------------
def rounded(value: float) -> float:
    return round(float(value), 3) + 0.0


def range_json(values: Range) -> dict[str, float]:
    return {name: rounded(one) for name, one in values._asdict().items()}


def outlook_json(one: Outlook) -> dict[str, Any]:
    return {
        "refraction_d": range_json(one.refraction_d),
        "acuity_logmar": range_json(one.acuity_logmar),
        "meets_target": rounded(one.chance),
    }


def target_json(record: WearerRecord) -> Mapping[str, Any]:
    target = record.target
    return {
        "logmar": target.acuity_logmar,
        "until_local": target.until_local.strftime("%H:%M"),
        "eyes": "better" if target.better_eye else "each",
        "distance_m": target.distance_m,
    }
