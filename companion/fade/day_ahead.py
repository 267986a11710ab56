"""A day that matters: which nights to wear until then, the last that may stay free, how sight should be.

Days that matter never rest on a skipped night: the night before each is worn, whatever was cleared and whatever
the forecast says. An earlier night may be named as the last free one only inside the clearance and only if the
chance then stays good through the whole of every such day. Naming it releases nothing: that evening's own answer
does. Holds and stops come before all this and are the caller's. Nothing here says that anybody is fit to drive.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from companion.fade.course import Stretch
from companion.fade.filter import State, follow
from companion.fade.outlook import GOOD_CHANCE, Outlook, Target, chances_of, outlooks, together
from companion.fade.parameters import Array
from companion.fade.population import Draws

ROOM_FOR_A_CHECK_H = 1.0
"""A check on the morning itself needs so long between the lens and the day. Design."""
SHORTEST_NIGHT_H = 3.0
"""Less is no night's wear, and outside of what the model knows."""
_LOOK_EVERY_H = 1.0


@dataclass(frozen=True)
class EyeNow:
    """One eye as the fit knows it. Eyes looked at together have states of one moment."""

    draws: Draws
    state: State


@dataclass(frozen=True)
class ComingNight:
    """Times are hours from the origin of the states. ``planned``: the plan wants it worn. ``target_h``: when the
    everyday target of the day after falls, if it has one."""

    start_h: float
    end_h: float
    planned: bool = True
    target_h: float | None = None


@dataclass(frozen=True)
class Leave:
    """What the practice signed about skipping, and the nights already off (silence counted as off).

    Nights that begin after ``until_h`` are not covered.
    """

    may_skip: bool
    longest_gap_nights: int = 0
    nights_off: int = 0
    until_h: float = np.inf


NO_LEAVE = Leave(may_skip=False)


@dataclass(frozen=True)
class Window:
    """The day that matters, from hour to hour."""

    from_h: float
    to_h: float
    driving: bool = False


class Note(StrEnum):
    """Why, and what to mind; the phrasebook has the words."""

    WEAR_THE_NIGHT_BEFORE = "wear_the_night_before"
    NIGHT_BEFORE_FREE_BY_PLAN = "night_before_free_by_plan"
    """The signed plan leaves that night free: the practice should say."""
    NO_NIGHT_LEFT = "no_night_left"
    """No night is left before the day: it rests on what was worn already."""
    NOT_CLEARED = "not_cleared"
    NO_FREE_NIGHT = "no_free_night"
    BELOW_TARGET = "below_target"
    """Even with each of these nights worn the target is not likely enough: ask the practice in time."""
    GLASSES_AT_HAND = "glasses_at_hand"
    DRIVING_NOT_JUDGED = "driving_not_judged"
    """The law and the clinic's measurement say who may drive. Blurred, double, haloes: do not."""


class CheckTime(StrEnum):
    EVENING_BEFORE = "evening_before"
    MORNING_ITSELF = "morning_itself"


@dataclass(frozen=True)
class Check:
    when: CheckTime
    at_h: float


@dataclass(frozen=True)
class Moment:
    """The wearer's chance at one time of the day that matters, and each eye alone."""

    at_h: float
    chance: float
    eyes: tuple[Outlook, ...]


@dataclass(frozen=True)
class DayAhead:
    """``wear``: which of the coming nights to wear, by place; ``last_free``: the last that may stay free."""

    wear: tuple[int, ...]
    last_free: int | None
    moments: tuple[Moment, ...]
    checks: tuple[Check, ...]
    notes: tuple[Note, ...]

    @property
    def chance(self) -> float:
        """The chance at the worst moment of the day."""
        return min(one.chance for one in self.moments)


def day_ahead(
    eyes: Sequence[EyeNow],
    nights: Sequence[ComingNight],
    day: Window,
    target: Target,
    leave: Leave = NO_LEAVE,
    *,
    better_eye: bool = False,
    also: Sequence[Window] = (),
) -> DayAhead:
    """Return what to do until ``day``. ``also``: other days that matter, which must hold too.

    ``nights`` are all the nights until then, in order, the first perhaps under way. Where a day that matters
    reaches into one, it is shortened: the wearer is up.
    """
    days = (day, *also)
    coming = _coming(nights, days)
    before = _night_before(coming, day)
    kept = {place for one in days for place in _nights_of(coming, one)}
    worn = {place for place, night in coming.items() if night.planned} | kept
    look = _Look(eyes, coming, target, better_eye)
    may_be = {place for place in worn - kept if coming[place].start_h < day.from_h}
    last_free = _last_free(look, worn, may_be, days, leave)
    if last_free is not None:
        worn.remove(last_free)
    moments = look.moments(worn, look.hours(worn, day))
    chance = min(one.chance for one in moments)
    return DayAhead(
        tuple(sorted(place for place in worn if coming[place].start_h < day.to_h)),
        last_free,
        moments,
        _checks(eyes, coming, before, day, chance),
        _notes(coming, before, day, leave, last_free, chance),
    )


# -- which nights ----------------------------------------------------------------------------------------------
_Coming = Mapping[int, ComingNight]


def _coming(nights: Sequence[ComingNight], days: Sequence[Window]) -> _Coming:
    """Return the nights that begin before all such days are over, by place, shortened where a day needs it."""
    end_h = max(one.to_h for one in days)
    coming = {}
    for place, night in enumerate(nights):
        for day in days:
            night = _made_room(night, day)
        if night.start_h < end_h and night.end_h - night.start_h >= SHORTEST_NIGHT_H:
            coming[place] = night
    return coming


def _made_room(night: ComingNight, day: Window) -> ComingNight:
    """Return what a day leaves of a night: the longer part before or after it, if the day begins in the night."""
    if night.start_h < day.from_h < night.end_h:
        if day.from_h - night.start_h >= night.end_h - day.to_h:
            return replace(night, end_h=day.from_h)
        return replace(night, start_h=day.to_h)
    late_h = day.to_h - night.start_h
    return replace(night, start_h=day.to_h) if 0.0 < late_h <= (night.end_h - night.start_h) / 2 else night


def _night_before(coming: _Coming, day: Window) -> int | None:
    """Return the last night that begins before the day, if one is still to come."""
    return max((place for place, night in coming.items() if night.start_h < day.from_h), default=None)


def _nights_of(coming: _Coming, day: Window) -> set[int]:
    """Return the nights that a day rests on: the one before it, and any inside it."""
    before = _night_before(coming, day)
    inside = {place for place, night in coming.items() if day.from_h <= night.start_h < day.to_h}
    return inside if before is None else inside | {before}


def _last_free(
    look: _Look, worn: set[int], may_be: Collection[int], days: Sequence[Window], leave: Leave
) -> int | None:
    if not leave.may_skip or not look.is_good(worn, days):
        return None
    for place in sorted(may_be, reverse=True):
        night = look.coming[place]
        covered = look.now_h <= night.start_h <= leave.until_h
        fewer = worn - {place}
        short = _gap(fewer, place, leave.nights_off) <= leave.longest_gap_nights
        if covered and short and look.is_good(fewer, days) and look.next_day_holds(fewer, place):
            return place
    return None


def _gap(worn: Collection[int], place: int, off_before: int) -> int:
    """Return how many nights in a row are off around ``place``; those before the first count if they touch."""
    first, last = place, place
    while first > 0 and first - 1 not in worn:
        first -= 1
    while worn and last < max(worn) and last + 1 not in worn:
        last += 1
    return last - first + 1 + (off_before if first == 0 else 0)


# -- how sight will be -----------------------------------------------------------------------------------------
@dataclass(frozen=True)
class _Look:
    eyes: Sequence[EyeNow]
    coming: _Coming
    target: Target
    better_eye: bool

    @property
    def now_h(self) -> float:
        return self.eyes[0].state.at_h

    def hours(self, worn: Collection[int], day: Window) -> list[float]:
        """Return the times at which a day is looked at: its ends and each hour between, without the lens and not
        before now."""
        between = np.arange(day.from_h, day.to_h, _LOOK_EVERY_H).tolist()
        nights = [self.coming[place] for place in worn]
        return [
            hour
            for hour in (*between, day.to_h)
            if hour >= self.now_h and not any(one.start_h < hour < one.end_h for one in nights)
        ] or [max(day.to_h, self.now_h)]

    def is_good(self, worn: Collection[int], days: Sequence[Window]) -> bool:
        hours = [hour for day in days for hour in self.hours(worn, day)]
        alone = [
            chances_of(eye.draws, *self._residuals(eye, worn, hours), self.target).tolist() for eye in self.eyes
        ]
        return all(together(one, self.better_eye) >= GOOD_CHANCE for one in zip(*alone, strict=True))

    def next_day_holds(self, worn: Collection[int], place: int) -> bool:
        """Say whether the everyday target holds after a night off, the lens not in before its hour."""
        at_h = self.coming[place].target_h
        earlier = [one for one in worn if one < place]
        return at_h is None or self.is_good(earlier, (Window(at_h, at_h),))

    def moments(self, worn: Collection[int], hours: Sequence[float]) -> tuple[Moment, ...]:
        alone = [outlooks(eye.draws, *self._residuals(eye, worn, hours), self.target) for eye in self.eyes]
        return tuple(
            Moment(hour, together([one.chance for one in some], self.better_eye), some)
            for hour, *each in zip(hours, *alone, strict=True)
            for some in (tuple(each),)
        )

    def _residuals(self, eye: EyeNow, worn: Collection[int], hours: Sequence[float]) -> tuple[Array, Array]:
        stretches = [Stretch(self.coming[one].start_h, self.coming[one].end_h) for one in sorted(worn)]
        found = follow(eye.draws, eye.state, stretches, (), hours)
        return found.residual_d, found.spread_d


# -- what to mind ----------------------------------------------------------------------------------------------
def _checks(
    eyes: Sequence[EyeNow], coming: _Coming, before: int | None, day: Window, chance: float
) -> tuple[Check, ...]:
    now_h = eyes[0].state.at_h
    out_h = now_h if before is None else max(coming[before].end_h, now_h)
    checks = []
    in_the_morning = day.from_h - out_h >= ROOM_FOR_A_CHECK_H
    if before is not None and coming[before].start_h >= now_h and (not in_the_morning or chance < GOOD_CHANCE):
        checks.append(Check(CheckTime.EVENING_BEFORE, coming[before].start_h))
    if in_the_morning:
        checks.append(Check(CheckTime.MORNING_ITSELF, out_h))
    return tuple(checks)


def _notes(
    coming: _Coming,
    before: int | None,
    day: Window,
    leave: Leave,
    last_free: int | None,
    chance: float,
) -> tuple[Note, ...]:
    notes = [Note.NO_NIGHT_LEFT if before is None else Note.WEAR_THE_NIGHT_BEFORE]
    if before is not None and not coming[before].planned:
        notes.append(Note.NIGHT_BEFORE_FREE_BY_PLAN)
    if not leave.may_skip:
        notes.append(Note.NOT_CLEARED)
    elif last_free is None:
        notes.append(Note.NO_FREE_NIGHT)
    if chance < GOOD_CHANCE:
        notes.append(Note.BELOW_TARGET)
    notes.append(Note.GLASSES_AT_HAND)
    if day.driving:
        notes.append(Note.DRIVING_NOT_JUDGED)
    return tuple(notes)
