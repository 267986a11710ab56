"""After a night without the lens: what sight to expect over the day that follows, and what to do.

What the night was missed for is not asked here. A hold, a stop or a sore eye comes first and is the caller's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from companion.fade.course import Stretch
from companion.fade.day_ahead import ComingNight, EyeNow, Moment
from companion.fade.filter import follow
from companion.fade.outlook import GOOD_CHANCE, Target, chances_of, outlooks, together

LONG_BREAK_NIGHTS = 7
"""From so many nights off on the clinic is asked before the lens goes in again, as in tonight's answer."""
_LOOK_EVERY_H = 1.0


class Todo(StrEnum):
    """The phrasebook has the words."""

    GLASSES = "glasses"
    """Sight may not reach the target: the glasses belong on the nose, or in the bag."""
    NO_DRIVING_IF_BLURRED = "no_driving_if_blurred"
    """Always said. Sight that seems good is no proof that a person may drive."""
    WEAR_TONIGHT = "wear_tonight"
    NOT_LONGER_THAN_USUAL = "not_longer_than_usual"
    """No extra hours, and no nap in the lens, to catch up."""
    DISINFECT_BY_LABEL = "disinfect_by_label"
    """A lens left in its case past what the label says is cleaned and disinfected again before it goes in."""
    ASK_CLINIC = "ask_clinic"


@dataclass(frozen=True)
class AfterMissed:
    """``moments``: each hour until the lens goes in again.

    good_until_h: the last of them up to which the target holds with good chance; None: not even now.
    good_again: after which of the coming nights (by place) the everyday target first holds with good chance; None:
    after none of those looked at.
    """

    moments: tuple[Moment, ...]
    good_until_h: float | None
    good_again: int | None
    todo: tuple[Todo, ...]


def after_missed_night(
    eyes: Sequence[EyeNow],
    nights: Sequence[ComingNight],
    target: Target,
    target_h: float,
    *,
    nights_off: int = 1,
    better_eye: bool = False,
) -> AfterMissed:
    """Return what the day after ``nights_off`` nights without the lens is like, from now on.

    ``nights`` are those to come, at least one, worn as planned; ``target_h`` is today's target's hour.
    """
    now_h = eyes[0].state.at_h
    day = np.arange(now_h, max(nights[0].start_h, now_h) + 1e-9, _LOOK_EVERY_H).tolist()
    again = [(place, night.target_h) for place, night in enumerate(nights) if night.target_h is not None]
    today = [max(now_h, target_h)]
    worn = [Stretch(one.start_h, one.end_h) for one in nights if one.planned]
    alone, later = [], []
    for eye in eyes:
        seen = follow(eye.draws, eye.state, (), (), [*day, *today])
        alone.append(outlooks(eye.draws, seen.residual_d, seen.spread_d, target))
        ahead = follow(eye.draws, eye.state, worn, (), [hour for _, hour in again])
        later.append(chances_of(eye.draws, ahead.residual_d, ahead.spread_d, target).tolist())
    *moments, at_target = [
        Moment(hour, together([one.chance for one in some], better_eye), some)
        for hour, some in zip([*day, *today], zip(*alone, strict=True), strict=True)
    ]
    good = [together(some, better_eye) >= GOOD_CHANCE for some in zip(*later, strict=True)]
    return AfterMissed(
        tuple(moments),
        _good_until(moments),
        next((place for (place, _), holds in zip(again, good, strict=True) if holds), None),
        _todo(at_target.chance, nights[0].planned, nights_off),
    )


def _good_until(moments: Sequence[Moment]) -> float | None:
    last = None
    for one in moments:
        if one.chance < GOOD_CHANCE:
            break
        last = one.at_h
    return last


def _todo(chance_at_target: float, tonight_planned: bool, nights_off: int) -> tuple[Todo, ...]:
    todo = [Todo.GLASSES] if chance_at_target < GOOD_CHANCE else []
    todo.append(Todo.NO_DRIVING_IF_BLURRED)
    if nights_off >= LONG_BREAK_NIGHTS:
        return (*todo, Todo.ASK_CLINIC)
    if tonight_planned:
        todo += [Todo.WEAR_TONIGHT, Todo.NOT_LONGER_THAN_USUAL]
    return (*todo, Todo.DISINFECT_BY_LABEL)
