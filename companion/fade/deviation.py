"""How far an eye strays from its own course when no reading says: the night's deviation and the slow drift."""

from __future__ import annotations

import numpy as np

from companion.fade.parameters import DRIFT_D, Array
from companion.fade.population import Draws


def deviation_spread_d(draws: Draws, share_of_night: Array | float = 1.0) -> Array:
    """Return the spread [D] of the deviation, (.., n): the night's so far as it lasts, and drift."""
    return np.hypot(draws.night_spread_d * share_of_night, DRIFT_D)


def scatter_d(draws: Draws, share_of_night: Array | float = 1.0) -> Array:
    """Return a deviation [D] for each draw, (.., n)."""
    return draws.score * deviation_spread_d(draws, share_of_night)
