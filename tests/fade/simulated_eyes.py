"""Simulated eyes: four ways in which an effect may build and fade, four ways of seeing through what is left.

None is the model's: a third stage, a shoulder, stores side by side, nights that differ in quality. Median eyes
keep to the published ranges (test_simulated_eyes.py). Knows no wearers and no records; times are hours from any
origin. Plain floats along the nights, arrays over the times: a simulated eye must cost little beside its forecast.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
State = tuple[float, ...]

SETTLED_NIGHTS, NIGHT_H = 60, 8.0
"""What a share of 1 stands for: the morning after so many nights of so many hours."""


class Night(NamedTuple):
    """One stretch of wear. ``quality``: how well it worked (1: as usual). ``shift_d``: how far it strayed [D]."""

    start_h: float
    end_h: float
    quality: float = 1.0
    shift_d: float = 0.0


class Mechanism(Protocol):
    @property
    def untouched(self) -> State: ...

    def worn(self, state: State, hours: float, quality: float) -> State:
        """Return the state after ``hours`` of wear."""

    def rested(self, state: State, hours: float) -> State:
        """Return the state after ``hours`` without a lens."""

    def left(self, states: Array, hours: Array) -> Array:
        """Return the effect ``hours`` after removals that ended in ``states`` (n, width), before it is a share."""


@dataclass(frozen=True)
class ThreeStages:
    """A quick effect passes into a middle one and that into a slow one, with the lens in; each fades apart."""

    build_h: float
    passing_h: tuple[float, float]
    fade_h: tuple[float, float, float]

    @property
    def untouched(self) -> State:
        return 0.0, 0.0, 0.0

    def worn(self, state: State, hours: float, quality: float) -> State:
        quick, middle, slow = state
        build, first, second = quality / self.build_h, 1 / self.passing_h[0], 1 / self.passing_h[1]
        room = 1 - quick - middle - slow
        by_build, by_first, by_second = exp(-build * hours), exp(-first * hours), exp(-second * hours)
        fed = build * room / (first - build)
        own = quick - fed
        middle_fed, middle_own = first * fed / (second - build), first * own / (second - first)
        quick = fed * by_build + own * by_first
        middle = middle_fed * by_build + middle_own * by_first + (middle - middle_fed - middle_own) * by_second
        return quick, middle, 1 - room * by_build - quick - middle

    def rested(self, state: State, hours: float) -> State:
        return tuple(one * exp(-hours / fade) for one, fade in zip(state, self.fade_h, strict=True))

    def left(self, states: Array, hours: Array) -> Array:
        total: Array = (states * np.exp(-hours[:, None] / np.array(self.fade_h))).sum(axis=1)
        return total


@dataclass(frozen=True)
class Shoulder:
    """Little is lost at first, then more: exp(-(t/tau)^power) with a slow tail. Tau grows as wear settles."""

    build_h: float
    fade_h: float
    power: float
    tail: float
    tail_h: float
    settling_h: float = 30.0
    fresh: float = 0.72
    """A new wearer's tau, as a share of the settled wearer's."""

    @property
    def untouched(self) -> State:
        return 0.0, 0.0

    def worn(self, state: State, hours: float, quality: float) -> State:
        effect, settled = state
        return (
            1 - (1 - effect) * exp(-quality * hours / self.build_h),
            1 - (1 - settled) * exp(-hours / self.settling_h),
        )

    def rested(self, state: State, hours: float) -> State:
        effect = float(self.left(np.array([state]), np.array([hours]))[0])
        return effect, state[1] * exp(-hours / 300.0)

    def left(self, states: Array, hours: Array) -> Array:
        tau = self.fade_h * (self.fresh + (1 - self.fresh) * states[:, 1])
        kept = (1 - self.tail) * np.exp(-((hours / tau) ** self.power)) + self.tail * np.exp(-hours / self.tail_h)
        effect: Array = states[:, 0] * kept
        return effect


@dataclass(frozen=True)
class SideBySide:
    """Two stores that build and fade apart, the quick one ``share`` of the whole."""

    share: float
    build_h: tuple[float, float]
    fade_h: tuple[float, float]

    @property
    def untouched(self) -> State:
        return 0.0, 0.0

    def worn(self, state: State, hours: float, quality: float) -> State:
        return tuple(
            1 - (1 - one) * exp(-quality * hours / build) for one, build in zip(state, self.build_h, strict=True)
        )

    def rested(self, state: State, hours: float) -> State:
        return tuple(one * exp(-hours / fade) for one, fade in zip(state, self.fade_h, strict=True))

    def left(self, states: Array, hours: Array) -> Array:
        kept = states * np.exp(-hours[:, None] / np.array(self.fade_h))
        effect: Array = self.share * kept[:, 0] + (1 - self.share) * kept[:, 1]
        return effect


@dataclass(frozen=True)
class OneStore:
    """One store; a night's dose is its hours times its quality."""

    build_h: float
    fade_h: float

    @property
    def untouched(self) -> State:
        return (0.0,)

    def worn(self, state: State, hours: float, quality: float) -> State:
        return (1 - (1 - state[0]) * exp(-quality * hours / self.build_h),)

    def rested(self, state: State, hours: float) -> State:
        return (state[0] * exp(-hours / self.fade_h),)

    def left(self, states: Array, hours: Array) -> Array:
        effect: Array = states[:, 0] * np.exp(-hours / self.fade_h)
        return effect


@dataclass(frozen=True)
class Course:
    """What nights made of an eye: the state at each removal. Asked for times at which no lens is in."""

    mechanism: Mechanism
    inserted_h: Array
    removed_h: Array
    states: Array
    shift_d: Array
    settled: float

    def at(self, times_h: Array) -> tuple[Array, Array]:
        """Return the share of the settled morning's effect, and the chance shift [D] of the last night by then."""
        last = np.searchsorted(self.removed_h, times_h, side="right") - 1
        ever = last >= 0
        hours = np.where(ever, times_h - self.removed_h[last], 0.0)
        share = self.mechanism.left(self.states[last], hours) / self.settled
        return np.where(ever, share, 0.0), np.where(ever, self.shift_d[last], 0.0)

    def off_h(self, times_h: Array) -> Array:
        """Return how long the lens has been out; nothing before the first night."""
        last = np.searchsorted(self.removed_h, times_h, side="right") - 1
        return np.where(last >= 0, times_h - self.removed_h[last], 0.0)

    def is_in(self, time_h: float) -> bool:
        """Say whether the lens is in."""
        return bool(np.any((self.inserted_h <= time_h) & (time_h < self.removed_h)))


def follow(mechanism: Mechanism, nights: Sequence[Night]) -> Course:
    """Return the course of an eye along ``nights``, at least one, in order and without overlap."""
    inserted, removed, _, shifts = np.array(nights).T
    return Course(mechanism, inserted, removed, np.array(_states(mechanism, nights)), shifts, _settled(mechanism))


def _states(mechanism: Mechanism, nights: Sequence[Night]) -> list[State]:
    states, state, removed = [], mechanism.untouched, nights[0].start_h
    for night in nights:
        state = mechanism.rested(state, night.start_h - removed)
        state, removed = mechanism.worn(state, night.end_h - night.start_h, night.quality), night.end_h
        states.append(state)
    return states


def _settled(mechanism: Mechanism) -> float:
    nights = [Night(24.0 * n, 24.0 * n + NIGHT_H) for n in range(SETTLED_NIGHTS)]
    last = np.array(_states(mechanism, nights)[-1:])
    return float(mechanism.left(last, np.zeros(1))[0])


# -- sight -----------------------------------------------------------------------------------------------------
FORMS = ("one plus square", "chart of 1945", "pupil", "threshold")

# D of defocus to logMAR: a chart's column of 1945 (from memory, moderate to high up to 2.5 D, low beyond).
CHART_D = np.array([0.0, 0.25, 0.50, 0.75, 1.00, 1.25, 1.50, 2.00, 2.50, 3.00, 4.00])
CHART_LOGMAR = np.log10(np.array([20, 25, 30, 40, 50, 70, 100, 150, 200, 250, 400]) / 20)

THRESHOLD_SLOPE = (0.50, 0.25)
"""logMAR a dioptre up to the bend and beyond it: 0.50 in an ARVO abstract, 2372581 (V); the bend is a design."""
BEND_D, SOFT_D = 1.5, 0.12


@dataclass(frozen=True)
class Sight:
    """How one eye sees through defocus. ``own`` is the person's: a factor on the defocus, the pupil [mm] or a
    threshold [D]."""

    form: str
    best_logmar: float
    own: float
    accommodation_d: float

    def blur_d(self, residual_d: Array, distance_m: float | Array = np.inf) -> Array:
        demand = residual_d + 1.0 / distance_m
        return np.maximum(-demand, np.maximum(demand - self.accommodation_d, 0.0))

    def logmar(self, blur_d: Array) -> Array:
        if self.form == "one plus square":  # Optom Vis Sci 2015, pubmed 25955640: V
            lost = np.log10(1 + (self.own * blur_d) ** 2)
        elif self.form == "chart of 1945":
            lost = np.interp(self.own * blur_d, CHART_D, CHART_LOGMAR)
        elif self.form == "pupil":  # Optom Vis Sci 1991;68:591, constant from memory; the root of squares INF
            lost = 0.5 * np.log10(1 + (0.65 * self.own * blur_d) ** 2)
        else:
            lost = self._past_threshold(blur_d) - self._past_threshold(np.zeros(1))
        seen: Array = self.best_logmar + lost
        return seen

    def _past_threshold(self, blur_d: Array) -> Array:
        first, later = THRESHOLD_SLOPE

        def past(bend: float) -> Array:
            beyond = blur_d - bend
            softened: Array = 0.5 * (beyond + np.hypot(beyond, SOFT_D))
            return softened

        return first * past(self.own) + (later - first) * past(BEND_D)


@dataclass(frozen=True)
class SimulatedEye:
    """The truth about one eye at any time at which no lens is in."""

    baseline_d: float
    treatment_d: float
    """The change of a settled morning, as this eye really answers."""
    course: Course
    days_h: Array
    drift_d: Array
    """Slow wandering of the refraction at ``days_h``."""
    sight: Sight

    def residual_d(self, times_h: Array) -> Array:
        share, shift = self.course.at(times_h)
        drift = np.interp(times_h, self.days_h, self.drift_d)
        residual: Array = self.baseline_d + (self.treatment_d + shift) * share + drift
        return residual

    def acuity_logmar(self, times_h: Array) -> Array:
        """Return the true unaided acuity far away."""
        return self.sight.logmar(self.sight.blur_d(self.residual_d(times_h)))
