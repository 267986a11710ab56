"""What a reading tells: how a home sight check or a practice refraction arises from the eye's true state.

A reading is Student-t about the truth: now and then one is far off. The noise of a sight check grows with blur
(Invest Ophthalmol Vis Sci 2004;45:1076, V: 0.11, 0.18, 0.25 at 0, 0.5, 1 D).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from companion.fade.parameters import Array
from companion.fade.population import Draws, Indices
from companion.fade.sight import acuity, blur_d

FREEDOM = 4.0
"""Degrees of freedom of the Student-t. Design: a reading beyond 4 spreads about once in 60."""
CHILD_BEFORE_AGE = 16
ADULT_SPREAD, CHILD_SPREAD = 0.07, 0.12
"""Spread [logMAR] of a home check at best focus (Ophthalmol Ther 2021, doi 10.1007/s40123-021-00360-3, V; INF)."""
LEAST_SPREAD = 0.03
"""No reading at home is believed more than the best charts in the best hands (Eye 1997;11:411: 0.04). Design."""
NOISE_PER_D, NOISE_UP_TO_D = 1.3, 1.0
"""The noise grows by so much a dioptre: 1.65 at 0.5 D, 2.3 at 1 D; nothing is published beyond."""
REFRACTION_SPREAD_D = 0.25
"""Spread of a refraction in the practice. Common practice: repeats within half a dioptre."""

_AS_WIDE = 0.88
"""A Student-t of so much of a normal's spread holds as much of its middle (68 %)."""
_NODE = math.sqrt(3.0)
_LOG_CONSTANT = (
    math.lgamma((FREEDOM + 1) / 2) - math.lgamma(FREEDOM / 2) - 0.5 * math.log(FREEDOM * math.pi)
)  # fmt: skip


@dataclass(frozen=True)
class SightReading:
    """A check of unaided sight with one eye, ``at_h`` hours from the origin; ``distance_m`` None: far; ``spread``
    None: as usual at home."""

    at_h: float
    logmar: float
    spread: float | None = None
    distance_m: float | None = None
    at_ceiling: bool = False
    """The test shows nothing finer: sight is at least so good."""


@dataclass(frozen=True)
class RefractionReading:
    """A refraction over the bare eye in the practice."""

    at_h: float
    sphere_d: float


Reading = SightReading | RefractionReading


class Expected(NamedTuple):
    """The reading as expected from a residual known to ``spread_d``: each of the residual's shape.

    value, spread: centre and scale of the reading. slope: how much the reading says of a dioptre of residual,
    as covariance over the residual's spread.
    """

    value: Array
    spread: Array
    slope: Array

    def along(self, branch: Indices) -> Expected:
        """Return what one branch of each draw expects, (1, n)."""
        return Expected(*(np.take_along_axis(one, branch, axis=0) for one in self))

    def first(self) -> Expected:
        return Expected(*(one[0] for one in self))


def usual_spread(age_years: float) -> float:
    return CHILD_SPREAD if age_years < CHILD_BEFORE_AGE else ADULT_SPREAD


def expected(draws: Draws, reading: Reading, residual_d: Array, spread_d: Array) -> Expected:
    """Return what the reading should be if the residual is normal about ``residual_d`` (.., n)."""
    if isinstance(reading, RefractionReading):
        return Expected(residual_d, np.hypot(spread_d, _AS_WIDE * REFRACTION_SPREAD_D), spread_d)
    age, away = draws.treatment.age_years, reading.distance_m
    # Gauss-Hermite, three points: acuity bends where blur begins.
    step = _NODE * spread_d
    worse, here, better = acuity(draws, np.stack((residual_d - step, residual_d, residual_d + step)), away)
    value = (worse + 4.0 * here + better) / 6.0
    variance = ((worse - value) ** 2 + 4.0 * (here - value) ** 2 + (better - value) ** 2) / 6.0
    blur = np.minimum(blur_d(residual_d, age, away), NOISE_UP_TO_D)
    growth = 1.0 + NOISE_PER_D * blur
    # A stated spread may or may not have the blur in it: half-way, on the scale of ratios.
    stated = reading.spread and max(reading.spread, LEAST_SPREAD)
    spread = usual_spread(age) * growth if stated is None else stated * np.sqrt(growth)
    noise = _AS_WIDE * spread
    return Expected(value, np.sqrt(variance + noise * noise), (better - worse) * (_NODE / 6.0))


def measured(reading: Reading) -> float:
    return reading.sphere_d if isinstance(reading, RefractionReading) else reading.logmar


def at_ceiling(reading: Reading) -> bool:
    return isinstance(reading, SightReading) and reading.at_ceiling


def log_density(reading: Reading, what: Expected) -> Array:
    """Return the log of the reading's Student-t density; at the ceiling, of the chance of so good a reading."""
    if at_ceiling(reading):
        return np.log(np.maximum(chance_below(measured(reading), what), 1e-300))
    off = (measured(reading) - what.value) / what.spread
    density: Array = _LOG_CONSTANT - np.log(what.spread) - 0.5 * (FREEDOM + 1) * np.log1p(off * off / FREEDOM)
    return density


def trust(reading: Reading, what: Expected) -> Array:
    """Return how much of a normal reading's word this one gets, 0 to 1: far-off ones are hardly heard."""
    off = (measured(reading) - what.value) / what.spread
    heard: Array = np.minimum(1.0, (FREEDOM + 1) / (FREEDOM + off * off))
    return np.where(off > 0.0, 0.0, heard) if at_ceiling(reading) else heard


def chance_below(value: float, what: Expected) -> Array:
    """Return the chance of a reading at or below ``value``: Student-t, in closed form for 4 degrees of freedom."""
    off = (value - what.value) / what.spread
    bent = off / np.sqrt(1.0 + 0.25 * off * off)
    return 0.5 + 0.375 * bent * (1.0 - bent * bent / 12.0)
