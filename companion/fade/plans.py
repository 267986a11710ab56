"""What wear plans end in: each pattern of weekdays, every second and every third night, once the eye has settled.

Information for the practitioner, never advice. The leaflet approved by the US FDA asks for wear every night;
no trial of alternate nights was found; the health of the cornea and the fit of the lens outrank any curve. That a
plan "meets" a target says only that sight would hold, in the long run and on usual nights.

A round of a plan is an affine map of the two stores; its fixed point is the steady state. Rounds that differ only
by where they begin (the 128 patterns of a week are 20 such) share it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache
from itertools import product

import numpy as np
from scipy.special import ndtr

from companion.fade.band import Band, residuals_that_meet
from companion.fade.course import MOST_SHARE
from companion.fade.deviation import deviation_spread_d, scatter_d
from companion.fade.outlook import GOOD_CHANCE, Range, Target, chances_of, ranges, together
from companion.fade.parameters import DRIFT_D, Array
from companion.fade.population import Draws
from companion.fade.sight import acuity
from companion.fade.stores import Rates, Stores, either, rest, settled_morning, wear

WEEK = 7
_DAY_H = 24.0
_LEAST_D = 1e-9
Nights = tuple[bool, ...]


@dataclass(frozen=True)
class UsualNight:
    """When the lens goes in and comes out, in hours after 0:00 of the date that names the night: 21.5, 30.5."""

    insertion_h: float
    removal_h: float

    @property
    def hours_worn(self) -> float:
        return self.removal_h - self.insertion_h


@dataclass(frozen=True)
class EyeHabit:
    draws: Draws
    night: UsualNight


@dataclass(frozen=True)
class EyeDay:
    """One eye at the target's hour of one day. Ranges are over what is not known of the eye."""

    chance: float
    refraction_d: Range
    acuity_logmar: float
    """The median."""


@dataclass(frozen=True)
class EyePlan:
    """One eye's days of a plan. ``every_day``: the chance that the target holds on all of them in one round."""

    days: tuple[EyeDay, ...]
    every_day: float


@dataclass(frozen=True)
class Plan:
    """One round of nights and what it ends in.

    nights: is it worn? A round of seven begins on Monday's evening; others begin with the night that is worn.
    chances: that the target holds on each day. A week's first day is Monday, which follows Sunday's evening; the
    first day of other rounds follows their first night. every_day: that it holds on all of them in one round; the
    worst day's chance is the kind that tonight's answer goes by. eyes: the same for each eye alone.
    """

    nights: Nights
    chances: tuple[float, ...]
    every_day: float
    eyes: tuple[EyePlan, ...]

    @property
    def nights_per_week(self) -> float:
        return WEEK * sum(self.nights) / len(self.nights)

    @property
    def worst(self) -> float:
        """The chance on the worst day."""
        return min(self.chances)

    @property
    def worst_day(self) -> int:
        return min(range(len(self.chances)), key=lambda day: round(self.chances[day], 6))

    def meets(self, needed: float = GOOD_CHANCE) -> bool:
        """Say whether each day of the round has the chance that is needed."""
        return self.worst >= needed


def weigh_plans(
    eyes: Sequence[EyeHabit], target: Target, target_hour: float, *, better_eye: bool = False
) -> tuple[Plan, ...]:
    """Return all 128 patterns of a week, then every second and every third night, for one eye or both.

    The day that follows a night is asked at ``target_hour`` (hour of the day), the first time it comes round after
    the lens is out; where that is past the next insertion, as if the wearer stayed up. A target of two eyes counts
    each (the smallest chance) or the better one.
    """
    found = [_eye_plans(eye, target, target_hour) for eye in eyes]
    plans = []
    for nights, *alone in zip(_patterns(), *found, strict=True):
        days = zip(*(one.days for one in alone), strict=True)
        chances = tuple(together([one.chance for one in day], better_eye) for day in days)
        plans.append(Plan(nights, chances, together([one.every_day for one in alone], better_eye), tuple(alone)))
    return tuple(plans)


def least_wear(plans: Sequence[Plan], needed: float = GOOD_CHANCE) -> Plan | None:
    """Return the plan of the fewest nights that meets the target on each of its days; None: not one does.

    Among equals the best worst day wins; rotations of one pattern are equal, the first in order stands for them.
    """
    meeting = [plan for plan in plans if plan.meets(needed)]
    return min(meeting, key=lambda plan: (plan.nights_per_week, -plan.worst), default=None)


def same_rhythm(plans: Sequence[Plan], plan: Plan) -> tuple[Plan, ...]:
    """Return the plans that differ from this one only by which day it is, itself among them."""
    turned = set(_turns(plan.nights))
    return tuple(one for one in plans if one.nights in turned)


def steady_shares(rates: Rates, rounds: Sequence[Nights], hours_worn: float, after_h: float) -> Array:
    """Return the settled effect share so long after each removal time of each round, (rounds, nights, n).

    All rounds are of one length. The removal time of a night without a lens is when it would have come out.
    """
    worn = np.repeat(np.array(rounds), rates.count, axis=0).T
    tiled = Rates(*(np.tile(getattr(rates, one.name), len(rounds)) for one in fields(rates)))
    day, night, off = rest(tiled, _DAY_H - hours_worn), wear(tiled, hours_worn), rest(tiled, hours_worn)
    steps = [day.then(either(one, night, off)) for one in worn]
    whole = steps[0]
    for step in steps[1:]:
        whole = whole.then(step)
    state = whole.fixed_point()
    later = rest(tiled, after_h)
    totals = []
    for step in steps:
        state = Stores(*step(state))
        totals.append(later(state).total)
    share = np.array(totals) / settled_morning(tiled)
    clipped: Array = np.clip(share, 0.0, MOST_SHARE)
    return clipped.reshape(len(steps), len(rounds), rates.count).swapaxes(0, 1)


# -- one eye ---------------------------------------------------------------------------------------------------
def _eye_plans(eye: EyeHabit, target: Target, target_hour: float) -> Iterator[EyePlan]:
    """Yield what each plan ends in, in the order of ``_patterns``."""
    until_target = (target_hour - eye.night.removal_h) % _DAY_H
    date_after = round((eye.night.removal_h + until_target - target_hour) / _DAY_H)
    rhythms: dict[Nights, EyePlan] = {}
    for length in (WEEK, 2, 3):
        rounds = [one for one in _rhythms() if len(one) == length]
        rhythms.update(zip(rounds, _settled(eye, rounds, until_target, target), strict=True))
    for nights in _patterns():
        turned = next(turn for turn in _turns(nights) if turn in rhythms)
        # How far this pattern is turned; and a week counts its days by date: Monday follows Sunday's night.
        ahead = _turns(turned).index(nights) - (date_after if len(nights) == WEEK else 0)
        days = rhythms[turned].days
        yield replace(rhythms[turned], days=tuple(days[(place + ahead) % len(days)] for place in range(len(days))))


def _settled(eye: EyeHabit, rounds: Sequence[Nights], until_target: float, target: Target) -> list[EyePlan]:
    """Return each round, its first day that which follows its first night."""
    draws, length = eye.draws, len(rounds[0])
    share = steady_shares(draws.rates, rounds, eye.night.hours_worn, until_target)
    residual = draws.residual_d(share).reshape(-1, draws.count)
    off = [_nights_off(one, place) for one in rounds for place in range(length)]
    different, which = np.unique(off, return_inverse=True)
    left = np.exp(-(until_target + _DAY_H * different[:, None]) / draws.rates.settled_fade_h)
    spread, scatter = deviation_spread_d(draws, left)[which], scatter_d(draws, left)[which]
    strayed = residual + scatter
    chances = chances_of(draws, residual, spread, target).tolist()
    refraction = ranges(Band(*np.percentile(strayed, (5, 50, 95), axis=-1)))
    sight = np.median(acuity(draws, strayed, target.distance_m), axis=-1).tolist()
    every_day = _chance_of_all(draws, residual, (draws.night_spread_d * left)[which], length, target)
    days = [EyeDay(*one) for one in zip(chances, refraction, sight, strict=True)]
    cut = [tuple(days[start : start + length]) for start in range(0, len(days), length)]
    return [
        EyePlan(one, min(*(day.chance for day in one), all_of)) for one, all_of in zip(cut, every_day, strict=True)
    ]


def _chance_of_all(draws: Draws, residual: Array, night_d: Array, length: int, target: Target) -> list[float]:
    """Return the chance of the target on all days of each round: the nights stray alone, drift and person stay."""
    lowest, highest = residuals_that_meet(draws, target.acuity_logmar, target.distance_m)
    drifted, spread = residual + DRIFT_D * draws.score, np.maximum(night_d, _LEAST_D)
    met = ndtr((highest - drifted) / spread) - ndtr((lowest - drifted) / spread)
    all_met: list[float] = met.reshape(-1, length, draws.count).prod(axis=1).mean(axis=-1).tolist()
    return all_met


def _nights_off(nights: Nights, place: int) -> float:
    """Return how many nights in a row are off up to and with this one; inf: the lens is never worn."""
    if not any(nights):
        return np.inf
    return next(back for back in range(len(nights)) if nights[place - back])


# -- patterns --------------------------------------------------------------------------------------------------
@cache
def _patterns() -> tuple[Nights, ...]:
    week = tuple(product((False, True), repeat=WEEK))
    return (*week, (True, False), (True, False, False))


@cache
def _rhythms() -> tuple[Nights, ...]:
    """The patterns, one for all that are turns of each other."""
    return tuple(one for one in _patterns() if one == max(_turns(one)))


@cache
def _turns(nights: Nights) -> tuple[Nights, ...]:
    return tuple(nights[turn:] + nights[:turn] for turn in range(len(nights)))
