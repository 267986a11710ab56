"""Who is told next about an alert, until a person has taken it.

An alert climbs step by step: each step tells some people a number of minutes after the alert was raised. Who that
is, the practice's plan says: people in order, each always, while the practice is open, or in its hours on call.
Whoever is on duty by the plan comes first. The plan never holds an urgent alert up: at level 4 or 5, where nobody
of it is on duty, everybody is told at once. Only *taken* stops the climb; *delivered* and *read* do not. At the
top it never falls silent: everybody is told again every so many minutes, and when the practice opens, until
somebody takes it. An alert that somebody took without reaching the family within the practice's minutes, or that
time has raised to a higher level, climbs again from its first step, with step numbers that go on counting; so does
one of which the family says, after those minutes, that nobody has called. Whoever asks gets every step that is due
and not done, so a worker that slept misses none; of the repeats it owes one, not all. Where a clock was put back,
nobody can say how long an alert has waited: everybody is told at once, and again, until the clock has caught up.

Levels 4 and 5 are counted in real minutes, day and night; level 3 in minutes in which the practice is open. The
minutes are the design of the safety guidance, section 6.2, and the practice's to set.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from math import inf
from zoneinfo import ZoneInfo

from companion.escalation.duty import OpeningHours, has_opened, on_duty, open_minutes


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

URGENT = 4
"""From this level on nothing waits for anybody's hours."""

PUT_BACK = timedelta(minutes=2)
"""What lies further ahead than this was written by a clock that has been put back since."""

STEP_BOUNDS: Mapping[int, tuple[tuple[int, int], ...]] = {
    5: ((1, 10), (2, 20)),
    4: ((5, 30), (10, 60)),
    3: ((30, 240),),
}
"""What a practice may set, by level: the least and the most minutes to each further step (design)."""


def ladders_from(minutes: Mapping[str, Sequence[int]]) -> Mapping[int, Ladder]:
    """Return the ladders with a practice's own minutes to the further steps, ``{"5": [5, 10]}``.

    What is left out, or lies outside its bounds, is as usual: a row that was spoilt must not slow an alert. The
    family is never told later than usual, and at an urgent level no later than the last step.
    """
    return {level: _ladder(level, minutes.get(str(level), ()), usual) for level, usual in LADDERS.items()}


def within_bounds(level: int, minutes: Sequence[int]) -> bool:
    """Say whether these are minutes that a practice may set: inside their bounds, each step after the last."""
    bounds = STEP_BOUNDS[level]
    return (
        len(minutes) == len(bounds)
        and all(low <= one <= high for one, (low, high) in zip(minutes, bounds, strict=True))
        and all(one < following for one, following in pairwise(minutes))
    )


def _ladder(level: int, minutes: Sequence[int], usual: Ladder) -> Ladder:
    if not within_bounds(level, minutes):
        return usual
    told = usual.family_told_after_minutes
    told = min(told, minutes[-1]) if level >= URGENT else told
    return replace(usual, after_minutes=(0, *minutes), family_told_after_minutes=told)


class When(StrEnum):
    """When the plan counts on somebody."""

    ALWAYS = "always"
    OPEN_HOURS = "open"
    ON_CALL = "on_call"


EVERY_WAY = "any"
NEVER = OpeningHours()


@dataclass(frozen=True)
class Planned:
    """One line of a practice's plan."""

    person: str
    when: When = When.ALWAYS
    channel: str = EVERY_WAY
    """The one way that the plan wishes for, or every way."""


@dataclass(frozen=True)
class ClimbPlan:
    """How the alerts of one practice climb."""

    people: tuple[str, ...]
    """Ids of everybody who can be told: those of the plan, in order, then the others."""
    contact_minutes: int
    """How long after *taken* the family must have been reached. The climb counts as its level does, the family in
    real minutes."""
    hours: OpeningHours
    where: ZoneInfo
    ladders: Mapping[int, Ladder]
    planned: tuple[Planned, ...] = ()
    """The lines of the plan whose people can be told. None: everybody is told in order, at any hour."""
    on_call: OpeningHours = NEVER
    tells: bool = True
    """False: this app tells nobody at the practice, and the family is told so."""

    @classmethod
    def usual(cls, people: Sequence[str], contact_minutes: int, hours: OpeningHours, where: ZoneInfo) -> ClimbPlan:
        return cls(tuple(people), contact_minutes, hours, where, LADDERS)

    def step(self, number: int, index: int, level: int, now: datetime) -> DueStep:
        """Return whom a step tells at ``now``: one more each, those on duty first; everybody at the last."""
        on_duty_now = [line for line in self.planned if self._counts(line.when, now)]
        last = index == len(self.ladders[level].after_minutes) - 1
        if last or (self.planned and not on_duty_now and level >= URGENT):
            return self.everybody(number)
        order = tuple(dict.fromkeys([*(line.person for line in on_duty_now), *self.people]))
        told = order[min(index, len(order) - 1) :][:1]
        lines = [line for line in (*on_duty_now, *self.planned) if line.person in told]
        return DueStep(number, told, lines[0].channel if lines else EVERY_WAY)

    def everybody(self, number: int) -> DueStep:
        """Return the step that tells everybody, by every way."""
        return DueStep(number, self.people)

    def _counts(self, when: When, now: datetime) -> bool:
        if when is When.ALWAYS:
            return True
        return on_duty(self.hours if when is When.OPEN_HOURS else self.on_call, self.where, now)


@dataclass(frozen=True)
class AlertTimes:
    """What has happened to an alert so far."""

    level: int
    raised_at: datetime
    """When it was raised to the level that it has now."""
    taken_at: datetime | None = None
    contact_at: datetime | None = None
    closed_at: datetime | None = None
    not_called_at: datetime | None = None
    """When the family last said that nobody has called."""


@dataclass(frozen=True)
class DoneStep:
    number: int
    at: datetime


@dataclass(frozen=True)
class DueStep:
    number: int
    person_ids: tuple[str, ...]
    channel: str = EVERY_WAY


class FamilyNews(StrEnum):
    """What the family must be told."""

    ALERTS_OFF = "alerts_off"
    """The practice lets this app tell nobody."""
    NOBODY_TO_TELL = "nobody_to_tell"
    NOBODY_TOOK_IT = "nobody_took_it"
    NO_CONTACT_YET = "no_contact_yet"


def due_steps(
    alert: AlertTimes, steps_done: Iterable[DoneStep], plan: ClimbPlan, now: datetime
) -> tuple[DueStep, ...]:
    """Return the steps that are due at ``now`` and not done, in order."""
    ladder = plan.ladders.get(alert.level)
    climbed = _climbed_minutes(alert, plan, now) if ladder and plan.tells else None
    if ladder is None or climbed is None:
        return ()
    done = {step.number: step for step in steps_done}
    if _put_back(alert, done.values(), now):
        return _told_anew(done, plan, alert.level, now)
    this_climb = [step for step in done.values() if _in_this_climb(step, alert, plan)]
    first = max(done.keys() - {step.number for step in this_climb}, default=-1) + 1
    numbers = range(first, first + len(ladder.after_minutes))
    if all(number in done for number in numbers):
        last = max(this_climb, key=lambda step: step.number)
        return (plan.everybody(last.number + 1),) if _due_again(last, alert.level, plan, now) else ()
    return tuple(
        plan.step(number, number - first, alert.level, now)
        for number, minutes in zip(numbers, ladder.after_minutes, strict=True)
        if minutes <= climbed and number not in done
    )


def family_told(alert: AlertTimes, plan: ClimbPlan, now: datetime) -> FamilyNews | None:
    """Return what the family must be told by ``now`` about an alert that nobody answers; None if nothing."""
    ladder = plan.ladders.get(alert.level)
    if ladder is None or _settled(alert):
        return None
    waited = (now - (alert.taken_at or alert.raised_at)) / timedelta(minutes=1)
    if _put_back(alert, (), now):
        waited = inf
    if alert.taken_at is not None:
        return FamilyNews.NO_CONTACT_YET if waited >= plan.contact_minutes else None
    if not plan.tells:
        return FamilyNews.ALERTS_OFF
    if not plan.people:
        return FamilyNews.NOBODY_TO_TELL
    return FamilyNews.NOBODY_TOOK_IT if waited >= ladder.family_told_after_minutes else None


def _put_back(alert: AlertTimes, steps: Iterable[DoneStep], now: datetime) -> bool:
    times = (alert.raised_at, alert.taken_at, *(step.at for step in steps))
    return any(one is not None and one > now + PUT_BACK for one in times)


def _told_anew(done: Mapping[int, DoneStep], plan: ClimbPlan, level: int, now: datetime) -> tuple[DueStep, ...]:
    """Return the step that tells everybody, unless they have just heard by the clock as it goes now."""
    last = done[max(done)] if done else None
    heard = last is not None and last.at <= now + PUT_BACK
    if last is not None and heard and not _due_again(last, level, plan, now):
        return ()
    return (plan.everybody(last.number + 1 if last else 0),)


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
    word = _not_called_in_time(alert, plan)
    if word is not None and word <= now:
        over = max(over, _minutes(alert.level, plan, word, now))
    return over if over >= 0 else None


def _not_called_in_time(alert: AlertTimes, plan: ClimbPlan) -> datetime | None:
    """Return when the family said that nobody has called, if the time for that call was over by then.

    Real minutes, as the family counts them: so a report taken just before the practice shuts does not wait for
    the morning.
    """
    said, taken = alert.not_called_at, alert.taken_at
    if said is None or taken is None or (said - taken) / timedelta(minutes=1) < plan.contact_minutes:
        return None
    return said


def _in_this_climb(step: DoneStep, alert: AlertTimes, plan: ClimbPlan) -> bool:
    """A step done before the alert had its present level belongs to an earlier climb; so does one done before
    somebody took it, or while they had it."""
    if step.at < alert.raised_at:
        return False
    if alert.taken_at is None:
        return True
    word = _not_called_in_time(alert, plan)
    over = _minutes(alert.level, plan, alert.taken_at, step.at) >= plan.contact_minutes
    return step.at > alert.taken_at and (over or (word is not None and word <= step.at))


def _minutes(level: int, plan: ClimbPlan, start: datetime, end: datetime) -> float:
    """Count minutes as ``level`` does. A practice without opening hours counts all: no alert may wait for ever."""
    if plan.ladders[level].counts is MinutesOf.OPEN_HOURS and plan.hours.ever_open:
        return open_minutes(plan.hours, plan.where, start, end)
    return (end - start) / timedelta(minutes=1)
