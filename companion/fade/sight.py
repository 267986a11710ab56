"""Sight from refraction: what of a residual blurs at a distance and an age, and the acuity that is left."""

from __future__ import annotations

import numpy as np

from companion.fade.parameters import Array
from companion.fade.population import LN_10, Draws

USABLE = 0.5
"""Share of the amplitude of accommodation that can be held up (handbook rule, from memory)."""


def usable_accommodation_d(age_years: float) -> float:
    """Return how much plus [D] an eye of that age clears by itself: half of 15 - age/4 (handbook, from memory)."""
    return USABLE * max(0.0, 15.0 - 0.25 * age_years)


def blur_d(residual_d: Array, age_years: float, distance_m: float | None = None) -> Array:
    """Return the defocus [D] left at ``distance_m`` (None: far): short sight gains 1/d, plus is accommodated."""
    demand = residual_d + (0.0 if distance_m is None else 1.0 / distance_m)
    return np.maximum(-demand, np.maximum(demand - usable_accommodation_d(age_years), 0.0))


def acuity_logmar(draws: Draws, blur: Array) -> Array:
    """Return the acuity at a defocus [D]: best + form/2 * log10(1 + (k blur)^2), ``loss_at_1_d`` worse at 1 D.

    form 1 is the law of large blur MAR = k * D joined to the eye's best by a root of squares (Optom Vis Sci
    1991;68:591, constant from memory; join INF); form 2 is MAR = 1 + D^2 (Optom Vis Sci 2015, pubmed 25955640, V).
    """
    logmar: Array = draws.best_acuity_logmar + (0.5 / LN_10) * draws.form * np.log1p(draws.bend * blur * blur)
    return logmar


def acuity(draws: Draws, residual_d: Array, distance_m: float | None = None) -> Array:
    """Return the unaided acuity [logMAR] of each draw at a residual refraction (..., n)."""
    blur = blur_d(residual_d, draws.treatment.age_years, distance_m)
    return acuity_logmar(draws, blur)
