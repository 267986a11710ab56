"""Who is told next about an alert, until a person has taken it.

An alert climbs step by step: each step tells some people a number of minutes after the alert was raised. Only
*taken* stops the climb; *delivered* and *read* do not. At the top it never falls silent: everybody is told again
every so many minutes, and when the practice opens, until somebody takes it. An alert that somebody took without
reaching the family within the practice's minutes, or that time has raised to a higher level, climbs again from its
first step, with step numbers that go on counting. Whoever asks gets every step that is due and not done, so a
worker that slept misses none; of the repeats it owes one, not all.

Levels 4 and 5 are counted in real minutes, day and night; level 3 in minutes in which the practice is open. The
minutes are the design of the safety guidance, section 6.2, and the practice's to set.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from companion.escalation.duty import OpeningHours, has_opened, open_minutes


class MinutesOf(StrEnum):
    """Which minutes count."""

    ANY_HOUR = "any_hour"
    OPEN_HOURS = "open_hours"


@dataclass(frozen=True)
class Ladder:
    """When the steps of one level are due, and when the family is told that nobody came."""

    after_minutes: tuple[int, ...]
    counts: MinutesOf
    family_told_after_minutes: int
    """Real minutes, whatever ``counts`` says: the family waits by its own clock."""
    again_after_minutes: int = 30
    """After its last step the alert goes to everybody again, this often, counted as the steps are (design)."""


LADDERS: Mapping[int, Ladder] = {
    5: Ladder((0, 5, 10), MinutesOf.ANY_HOUR, 10),
    4: Ladder((0, 15, 30), MinutesOf.ANY_HOUR, 30),
    3: Ladder((0, 120), MinutesOf.OPEN_HOURS, 240),
}
"""By level; a level that is not here does not climb."""


@dataclass(frozen=True)
class ClimbPlan:
    """How the alerts of one practice climb."""

    people: tuple[str, ...]
    """Ids of those to tell: those who are told first, in order, then everybody else."""
    contact_minutes: int
    """How long after *taken* the family must have been reached. The climb counts as its level does, the family in
    real minutes."""
    hours: OpeningHours
    where: ZoneInfo
    ladders: Mapping[int, Ladder]

    @classmethod
    def usual(cls, people: Sequence[str], contact_minutes: int, hours: OpeningHours, where: ZoneInfo) -> ClimbPlan:
        return cls(tuple(people), contact_minutes, hours, where, LADDERS)

    def told_at(self, index: int, level: int) -> tuple[str, ...]:
        """Return whom a step tells: one more person each, and everybody at the last."""
        if index == len(self.ladders[level].after_minutes) - 1:
            return self.people
        return self.people[min(index, len(self.people) - 1) :][:1]


@dataclass(frozen=True)
class AlertTimes:
    """What has happened to an alert so far."""

    level: int
    raised_at: datetime
    """When it was raised to the level that it has now."""
    taken_at: datetime | None = None
    contact_at: datetime | None = None
    closed_at: datetime | None = None


@dataclass(frozen=True)
class DoneStep:
    number: int
    at: datetime


@dataclass(frozen=True)
class DueStep:
    number: int
    person_ids: tuple[str, ...]


class FamilyNews(StrEnum):
    """What the family must be told."""

    NOBODY_TO_TELL = "nobody_to_tell"
    NOBODY_TOOK_IT = "nobody_took_it"
    NO_CONTACT_YET = "no_contact_yet"


def due_steps(
    alert: AlertTimes, steps_done: Iterable[DoneStep], plan: ClimbPlan, now: datetime
) -> tuple[DueStep, ...]:
    """Return the steps that are due at ``now`` and not done, in order."""
    ladder = plan.ladders.get(alert.level)
    climbed = _climbed_minutes(alert, plan, now) if ladder else None
    if ladder is None or climbed is None:
        return ()
    done = {step.number: step for step in steps_done}
    this_climb = [step for step in done.values() if _in_this_climb(step, alert, plan)]
    first = max(done.keys() - {step.number for step in this_climb}, default=-1) + 1
    numbers = range(first, first + len(ladder.after_minutes))
    if all(number in done for number in numbers):
        last = max(this_climb, key=lambda step: step.number)
        return (DueStep(last.number + 1, plan.people),) if _due_again(last, alert.level, plan, now) else ()
    return tuple(
        DueStep(number, plan.told_at(number - first, alert.level))
        for number, minutes in zip(numbers, ladder.after_minutes, strict=True)
        if minutes <= climbed and number not in done
    )


def family_told(alert: AlertTimes, plan: ClimbPlan, now: datetime) -> FamilyNews | None:
    """Return what the family must be told by ``now`` about an alert that nobody answers; None if nothing."""
    ladder = plan.ladders.get(alert.level)
    if ladder is None or _settled(alert):
        return None
    waited = (now - (alert.taken_at or alert.raised_at)) / timedelta(minutes=1)
    if alert.taken_at is not None:
        return FamilyNews.NO_CONTACT_YET if waited >= plan.contact_minutes else None
    if not plan.people:
        return FamilyNews.NOBODY_TO_TELL
    return FamilyNews.NOBODY_TOOK_IT if waited >= ladder.family_told_after_minutes else None


def _due_again(last: DoneStep, level: int, plan: ClimbPlan, now: datetime) -> bool:
    """Say whether everybody must hear of an alert again: after a while, and as soon as the practice opens."""
    waited = _minutes(level, plan, last.at, now)
    return waited >= plan.ladders[level].again_after_minutes or has_opened(plan.hours, plan.where, last.at, now)


def _settled(alert: AlertTimes) -> bool:
    return alert.contact_at is not None or alert.closed_at is not None


def _climbed_minutes(alert: AlertTimes, plan: ClimbPlan, now: datetime) -> float | None:
    """Return for how long the present climb has gone on; None while the alert is in somebody's hands."""
    if _settled(alert):
        return None
    if alert.taken_at is None:
        return _minutes(alert.level, plan, alert.raised_at, now)
    over = _minutes(alert.level, plan, alert.taken_at, now) - plan.contact_minutes
    return over if over >= 0 else None


def _in_this_climb(step: DoneStep, alert: AlertTimes, plan: ClimbPlan) -> bool:
    """A step done before the alert had its present level belongs to an earlier climb; so does one done before
    somebody took it, or while they had it."""
    if step.at < alert.raised_at:
        return False
    if alert.taken_at is None:
        return True
    return (
        step.at > alert.taken_at and _minutes(alert.level, plan, alert.taken_at, step.at) >= plan.contact_minutes
    )


def _minutes(level: int, plan: ClimbPlan, start: datetime, end: datetime) -> float:
    """Count minutes as ``level`` does. A practice without opening hours counts all: no alert may wait for ever."""
    if plan.ladders[level].counts is MinutesOf.OPEN_HOURS and plan.hours.ever_open:
        return open_minutes(plan.hours, plan.where, start, end)
    return (end - start) / timedelta(minutes=1)
