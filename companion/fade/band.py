"""Draws summed up: the band in which the truth lies, and how likely a target is met."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from companion.fade.parameters import Array
from companion.fade.population import LN_10, Draws
from companion.fade.sight import usable_accommodation_d

_CERTAIN = 6.0
"""Spreads from which on a normal chance is 1 to nine digits."""


class Band(NamedTuple):
    """5th, 50th and 95th percentile, each (n_times,)."""

    p05: Array
    p50: Array
    p95: Array


def band(values: Array) -> Band:
    """Return the percentiles over the draws of (n_times, n)."""
    return Band(*np.percentile(values, (5, 50, 95), axis=-1))


def chance_to_meet(
    draws: Draws, residual_d: Array, spread_d: Array, target_logmar: float, distance_m: float | None = None
) -> Array:
    """Return the chance of seeing at least as well as the target, (n_times,), each draw's residual normal about
    ``residual_d`` (n_times, n)."""
    lowest, highest = residuals_that_meet(draws, target_logmar, distance_m)
    spread = np.maximum(spread_d, 1e-9)
    above = (residual_d - lowest) / spread
    room = (highest - residual_d) / spread
    met: Array = ndtr(above)
    if room.min() < _CERTAIN:  # most eyes are far from too much plus to see: half the work
        met = met - ndtr(-room)
    chance: Array = met.mean(axis=-1)
    return chance


def residuals_that_meet(
    draws: Draws, target_logmar: float, distance_m: float | None = None
) -> tuple[Array, Array]:
    """Return between which residuals [D] an eye sees at least as well as the target, (n,): inf where none does."""
    room = 2.0 * LN_10 * (target_logmar - draws.best_acuity_logmar) / draws.form
    blur = np.sqrt(np.maximum(np.expm1(room), 0.0) / draws.bend)
    near = 0.0 if distance_m is None else 1.0 / distance_m
    lowest = np.where(room < 0.0, np.inf, -blur - near)
    highest = np.where(room < 0.0, np.inf, usable_accommodation_d(draws.treatment.age_years) + blur - near)
    return lowest, highest
