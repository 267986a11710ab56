"""What one eye will see, summed up in plain numbers: the same sums for plans, days ahead and new wearers.

Knows neither how the residual came about nor what anybody should do about it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from companion.fade.band import Band, band, chance_to_meet
from companion.fade.parameters import Array
from companion.fade.population import Draws
from companion.fade.sight import acuity

GOOD_CHANCE = 0.90
"""A target counts as met from this probability on, as in tonight's answer."""


class Range(NamedTuple):
    """5th, 50th and 95th percentile."""

    p05: float
    p50: float
    p95: float


@dataclass(frozen=True)
class Target:
    """The acuity that unaided sight should reach, and at which distance (None: far)."""

    acuity_logmar: float
    distance_m: float | None = None


@dataclass(frozen=True)
class Outlook:
    """One eye at one moment. ``chance``: that it sees at least as well as the target."""

    refraction_d: Range
    acuity_logmar: Range
    chance: float


def outlooks(draws: Draws, residual_d: Array, spread_d: Array, target: Target) -> tuple[Outlook, ...]:
    """Sum up residuals whose mean and spread in each draw are given, both (n_times, n)."""
    strayed = residual_d + spread_d * draws.score
    refraction = ranges(band(strayed))
    sight = ranges(band(acuity(draws, strayed, target.distance_m)))
    chances = chances_of(draws, residual_d, spread_d, target).tolist()
    return tuple(Outlook(*one) for one in zip(refraction, sight, chances, strict=True))


def chances_of(draws: Draws, residual_d: Array, spread_d: Array, target: Target) -> Array:
    """Return the chance of the target at each time, (n_times,)."""
    return chance_to_meet(draws, residual_d, spread_d, target.acuity_logmar, target.distance_m)


def ranges(values: Band) -> list[Range]:
    return [Range(*one) for one in zip(*(part.tolist() for part in values), strict=True)]


def together(chances: Sequence[float], better_eye: bool) -> float:
    """Return the eyes' common chance: the better eye's, or each eye's and so the smallest."""
    return max(chances) if better_eye else min(chances)
