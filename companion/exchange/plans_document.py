"""What other plans would end in, and how long the way back is: information for the practitioner, from a fit.

Owns the document's shape alone; nothing in it is advice, and nothing that reads it may change a plan.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from companion.common.eyes import Eye
from companion.exchange.nights_ahead import range_json, rounded, target_json, target_of
from companion.exchange.wearer_course import WearerCourse, said
from companion.fade.onset import reversal
from companion.fade.plans import WEEK, EyeHabit, Nights, Plan, UsualNight, least_wear, same_rhythm, weigh_plans
from companion.regimen.nights import UsualHours
from companion.regimen.plan import WEEKDAYS, WearPlan

_HOUR = timedelta(hours=1)
_NOON_H = 12.0


def plans(wearer: WearerCourse) -> dict[str, Any]:
    """Return the plan in force, the least wear that meets the target each day, the steady rhythms, and all weeks.

    ``in_force`` is None where the plan's rhythm is not among those worked out. ``groups``: the patterns of a week
    by nights worn, most first; of patterns that differ only by which day it is, the first stands for all
    (``turns``). Each plan's refraction and acuity are those of its worst day, at the target's hour.
    """
    record = wearer.record
    until = record.target.until_local
    found = weigh_plans(
        [EyeHabit(course.draws, _usual_night(course.usual)) for course in wearer.eyes.values()],
        target_of(record),
        until.hour + until.minute / 60,
        better_eye=record.target.better_eye,
    )
    eyes = tuple(wearer.eyes)
    by_nights = {plan.nights: plan for plan in found}
    in_force, least = by_nights.get(_rhythm(record.plan)), least_wear(found)
    return {
        "as_of": said(wearer.as_of, record),
        "target": target_json(record),
        "in_force": in_force and _plan_json(in_force, eyes),
        "least": least and _plan_json(least, eyes),
        "every": {str(n): _plan_json(by_nights[_every(n)], eyes) for n in (1, 2, 3)},
        "groups": [
            {"nights_per_week": worn, "plans": [_folded(found, plan, eyes) for plan in some]}
            for worn in range(WEEK, -1, -1)
            if (some := _of_a_week(found, worn))
        ],
    }


def way_back(wearer: WearerCourse) -> dict[str, Any]:
    """Return for each eye the days until it is back at its baseline if no lens is worn from now on."""
    told = {}
    for eye, course in wearer.eyes.items():
        found = reversal(course.draws, course.fit.state, target_of(wearer.record))
        told[eye.value] = {
            "days": range_json(found.days),
            "course": [
                {"day": one.day, "refraction_d": range_json(one.sight.refraction_d)} for one in found.course
            ],
        }
    return {"as_of": said(wearer.as_of, wearer.record), "eyes": told}


def _usual_night(usual: UsualHours) -> UsualNight:
    return UsualNight(_NOON_H + usual.insertion / _HOUR, _NOON_H + usual.removal / _HOUR)


def _every(nights: int) -> Nights:
    """Return the round of every n-th night; every night is a week of seven."""
    return (True,) * WEEK if nights == 1 else (True, *(False,) * (nights - 1))


def _rhythm(plan: WearPlan) -> Nights:
    if plan.weekdays is not None:
        return tuple(day in plan.weekdays for day in range(WEEK))
    return _every(plan.every)


def _of_a_week(found: Sequence[Plan], worn: int) -> list[Plan]:
    """Return the weeks of so many nights, one for all that are turns of each other, the best first."""
    kept: dict[frozenset[Nights], Plan] = {}
    for plan in found:
        if len(plan.nights) == WEEK and sum(plan.nights) == worn:
            turns = same_rhythm(found, plan)
            kept[frozenset(one.nights for one in turns)] = max(turns, key=lambda one: one.nights)
    return sorted(kept.values(), key=lambda plan: (-plan.worst, plan.nights))


def _folded(found: Sequence[Plan], plan: Plan, eyes: Sequence[Eye]) -> dict[str, Any]:
    return {**_plan_json(plan, eyes), "turns": len(same_rhythm(found, plan))}


def _plan_json(plan: Plan, eyes: Sequence[Eye]) -> dict[str, Any]:
    weekly = len(plan.nights) == WEEK
    worst: Mapping[Eye, Any] = {eye: one.days[plan.worst_day] for eye, one in zip(eyes, plan.eyes, strict=True)}
    return {
        "every": None if weekly else len(plan.nights),
        "weekdays": [day for day, worn in zip(WEEKDAYS, plan.nights, strict=True) if worn] if weekly else None,
        "nights_per_week": rounded(plan.nights_per_week),
        "meets": plan.meets(),
        "chances": [rounded(one) for one in plan.chances],
        "worst": rounded(plan.worst),
        "worst_day": plan.worst_day,
        "every_day": rounded(plan.every_day),
        "refraction_d": {eye.value: range_json(one.refraction_d) for eye, one in worst.items()},
        "acuity_logmar": {eye.value: rounded(one.acuity_logmar) for eye, one in worst.items()},
    }
