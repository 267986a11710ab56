"""The nights: each eye worn, not worn or unknown, folded from the statements that stand.

How a night of an eye is decided, first match wins:

1. Somebody tapped: worn. If *no lenses* was said for that night after the last *in*, the two contradict each
   other: unknown, and asked about. An *in* after *no lenses* is a change of mind and stands.
2. Somebody said *no lenses*: not worn.
3. An *all as planned* covers it (of several, the last received), and the night was over when it was said: worn at
   the usual times where the plan asks for the night, not worn where the plan leaves it free. A night named as an
   exception is not worn where the plan asks for it; where the plan leaves it free it went otherwise, which may be
   anything: unknown.
4. Otherwise unknown. Silence is not a fact.

The fold asks no clock, so that a cache of it can be rebuilt and compared. What depends on the hour (a lens that
should be out by now) is in ``open_questions``. Hours come from instants; a night belongs to the date of its
evening by the split hour in the zone where the lens went in.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from statistics import median
from zoneinfo import ZoneInfo

from companion.common.eyes import EYES, Eye
from companion.common.moments import NOON, at_wall_clock, night_of, zone
from companion.diary.kinds import Kind
from companion.diary.merge import StandingEntry
from companion.diary.wear import (
    LONGEST_USUAL,
    SHORTEST_USUAL_HOURS,
    Odd,
    Oddity,
    Wear,
    concerns,
    counted_at,
    taps_of,
    wears_of,
)

EARLY_RISER = timedelta(hours=2)
"""*All as planned* may be said this long before the usual removal and still speak of the night just ending."""


class NightState(StrEnum):
    WORN = "worn"
    NOT_WORN = "not_worn"
    UNKNOWN = "unknown"


class Source(StrEnum):
    LOGGED = "logged"
    AS_PLANNED = "as_planned"


@dataclass(frozen=True)
class Habits:
    """What is usual for a wearer: where home is, when lenses go in and come out, and when one night ends."""

    home: ZoneInfo
    split: time = NOON
    usual_in: time = time(21, 30)
    usual_out: time = time(6, 30)

    def usual_wear(self, night: date) -> tuple[datetime, datetime]:
        """Return the instants at which lenses usually go in and come out in ``night``."""
        tomorrow = night + timedelta(days=1)
        day_in = night if self.usual_in >= self.split else tomorrow
        day_out = day_in if self.usual_out > self.usual_in else day_in + timedelta(days=1)
        return at_wall_clock(day_in, self.usual_in, self.home), at_wall_clock(day_out, self.usual_out, self.home)


@dataclass(frozen=True)
class EyeNight:
    """One night of one eye."""

    state: NightState
    source: Source | None = None
    hours: float | None = None
    """Hours worn, 0 for a night not worn, None where unknown."""
    wears: tuple[Wear, ...] = ()
    oddities: tuple[Oddity, ...] = ()


@dataclass(frozen=True)
class Night:
    night: date
    planned: bool
    """Whether the plan asks for lenses in this night."""
    eyes: Mapping[Eye, EyeNight]


@dataclass(frozen=True)
class Question:
    """Something to ask the family about, kindly."""

    night: date
    eyes: tuple[Eye, ...]
    oddity: Oddity


@dataclass(frozen=True)
class Summary:
    """Counts of nights of one eye."""

    worn: int
    not_worn: int
    unknown: int
    planned: int
    planned_not_worn: int
    median_hours: float | None


@dataclass
class _EyeFacts:
    """What is known about one eye, by night."""

    wears: dict[date, list[Wear]] = field(default_factory=lambda: defaultdict(list))
    refusals: dict[date, list[StandingEntry]] = field(default_factory=lambda: defaultdict(list))
    notes: dict[date, list[Oddity]] = field(default_factory=lambda: defaultdict(list))


def nights_of(
    standing: Iterable[StandingEntry],
    plan_asks: Callable[[date], bool],
    first_night: date,
    last_night: date,
    habits: Habits,
    eyes: Sequence[Eye] = EYES,
) -> tuple[Night, ...]:
    """Return the nights from ``first_night`` to ``last_night``, both included.

    standing: all of the wearer's statements (a tap outside the range may belong to a night inside).
    plan_asks: whether the plan that was in force asks for lenses in a night.
    eyes: the treated eyes.
    """
    entries = sorted(standing, key=lambda one: (one.at, one.seq, one.id))
    facts = {eye: _facts(entries, eye, habits.split) for eye in eyes}
    weekly = sorted((e for e in entries if e.kind is Kind.AS_PLANNED), key=lambda e: (e.seq, e.id), reverse=True)
    nights = []
    for days in range((last_night - first_night).days + 1):
        night = first_night + timedelta(days=days)
        planned = plan_asks(night)
        told = _told_weekly(weekly, night, planned, habits)
        nights.append(Night(night, planned, {eye: _eye_night(night, facts[eye], told) for eye in eyes}))
    return tuple(nights)


def _facts(entries: Sequence[StandingEntry], eye: Eye, split: time) -> _EyeFacts:
    facts = _EyeFacts()
    for wear in wears_of(taps_of(entries, eye), split):
        facts.wears[wear.night].append(wear)
    for entry in entries:
        if entry.kind in (Kind.LENSES_IN, Kind.LENSES_OUT) and concerns(entry, eye) and counted_at(entry)[1]:
            asked = night_of(entry.received_at, zone(entry.zone), split)
            facts.notes[asked].append(Oddity(Odd.FUTURE_TIME, (entry.id,)))
        elif entry.kind is Kind.NO_LENSES and concerns(entry, eye):
            said_on = min(entry.at, entry.received_at).astimezone(zone(entry.zone)).date()
            night = date.fromisoformat(entry.payload["night"])
            if night > said_on:  # beyond the coming evening: an intention, not a fact
                facts.notes[said_on].append(Oddity(Odd.FUTURE_TIME, (entry.id,)))
            else:
                facts.refusals[night].append(entry)
    return facts


def _told_weekly(weekly: Iterable[StandingEntry], night: date, planned: bool, habits: Habits) -> EyeNight:
    """Return what *all as planned* says about a night; ``weekly`` holds the last received first."""
    usual_in, usual_out = habits.usual_wear(night)
    name = night.isoformat()
    for entry in weekly:
        said_at = min(entry.at, entry.received_at)
        if not entry.payload["since"] <= name <= entry.payload["until"] or said_at < usual_out - EARLY_RISER:
            continue
        excepted = name in entry.payload["except"]
        if planned and not excepted:
            end = min(usual_out, said_at)
            wear = Wear(night, habits.home.key, usual_in, end, (entry.id,), as_planned=True)
            return EyeNight(NightState.WORN, Source.AS_PLANNED, wear.hours, (wear,))
        if planned or not excepted:
            return EyeNight(NightState.NOT_WORN, Source.AS_PLANNED, 0.0)
        return EyeNight(NightState.UNKNOWN)
    return EyeNight(NightState.UNKNOWN)


def _eye_night(night: date, facts: _EyeFacts, told: EyeNight) -> EyeNight:
    wears = tuple(facts.wears.get(night, ()))
    refusals = facts.refusals.get(night, ())
    oddities = [*facts.notes.get(night, ()), *(odd for wear in wears for odd in wear.oddities)]
    if wears:
        ids = tuple(entry_id for wear in wears for entry_id in wear.entry_ids)
        tapped = [moment for wear in wears if (moment := wear.start or wear.end)]
        if any(not tapped or refusal.at >= max(tapped) for refusal in refusals):
            oddities.append(Oddity(Odd.WORN_AND_NOT, (*ids, *(refusal.id for refusal in refusals))))
            return EyeNight(NightState.UNKNOWN, None, None, wears, tuple(oddities))
        each = [wear.hours for wear in wears]
        hours = None if None in each else sum(one for one in each if one is not None)
        settled = any(wear.settled for wear in wears)
        if hours is not None and hours < SHORTEST_USUAL_HOURS and not settled:
            oddities.append(Oddity(Odd.SHORT, ids))
        return EyeNight(NightState.WORN, Source.LOGGED, hours, wears, tuple(oddities))
    if refusals:
        return EyeNight(NightState.NOT_WORN, Source.LOGGED, 0.0, (), tuple(oddities))
    return EyeNight(told.state, told.source, told.hours, told.wears, tuple(oddities))


def open_questions(nights: Iterable[Night], now: datetime) -> tuple[Question, ...]:
    """Return what to ask the family about: every oddity, and each lens nobody has logged out in over 20 hours.

    What concerns both eyes alike is asked once.
    """
    asked: dict[tuple[date, Oddity], list[Eye]] = defaultdict(list)
    for night in nights:
        for eye, of_eye in night.eyes.items():
            for oddity in of_eye.oddities:
                asked[night.night, oddity].append(eye)
            for wear in of_eye.wears:
                told = any(odd.code is Odd.IN_WITHOUT_OUT for odd in wear.oddities)
                if wear.start and wear.end is None and not told and now - wear.start > LONGEST_USUAL:
                    asked[night.night, Oddity(Odd.IN_WITHOUT_OUT, wear.entry_ids)].append(eye)
    return tuple(Question(night, tuple(eyes), oddity) for (night, oddity), eyes in asked.items())


def summary(nights: Sequence[Night], eye: Eye, last: int = 14) -> Summary:
    """Count the last ``last`` nights of one eye."""
    recent = sorted(nights, key=lambda one: one.night)[-last:]
    states = [(night.planned, night.eyes[eye]) for night in recent]
    hours = [of.hours for _, of in states if of.state is NightState.WORN and of.hours is not None]

    def count(state: NightState) -> int:
        return sum(of.state is state for _, of in states)

    return Summary(
        worn=count(NightState.WORN),
        not_worn=count(NightState.NOT_WORN),
        unknown=count(NightState.UNKNOWN),
        planned=sum(planned for planned, _ in states),
        planned_not_worn=sum(planned and of.state is NightState.NOT_WORN for planned, of in states),
        median_hours=median(hours) if hours else None,
    )
