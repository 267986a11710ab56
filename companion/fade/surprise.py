"""Sight that the nights do not explain: several checks worse than foretold, and what that may mean.

Good sight proves little: a young eye clears plus by itself, so an eye with far too much effect reads as sharply as
one on its aim. Nothing here clears an eye; that is the practice's to do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
from scipy.special import ndtr

from companion.fade.hindsight import OUTSIDE, Foretold, sight_checks
from companion.fade.parameters import Array

LOOKED_AT = 3
NEEDED = 2
"""Of the last three checks so many must lie beyond the band, the last one among them. Design."""
LEAST_LOGMAR = 0.10
"""A line of the chart: less is not worth a call even where it is unlikely."""
WITHIN_DAYS = 10
SWAP_APART_D = 0.5
"""Two lenses that differ by less would hardly show in each other's eye."""
TOO_MUCH_PLUS_D = 1.00


@dataclass(frozen=True)
class Surprise:
    """So many of the last ``looked_at`` checks were worse than foretold, by ``worse_logmar`` in the middle."""

    checks: int
    looked_at: int
    worse_logmar: float


def worse_than_explained(foretold: Sequence[Foretold], now_h: float) -> Surprise | None:
    """Return how far the last checks lie beyond what the nights explain; None: they do not."""
    last = [one for one in sight_checks(foretold) if now_h - one.reading.at_h <= 24 * WITHIN_DAYS][-LOOKED_AT:]
    beyond = [one for one in last if one.chance > 1.0 - OUTSIDE]
    if len(beyond) < NEEDED or beyond[-1] is not last[-1]:
        return None
    by = median(one.off for one in beyond)
    return Surprise(len(beyond), len(last), by) if by >= LEAST_LOGMAR else None


def may_be_swapped(worse_size_d: float, other: Sequence[Foretold], other_size_d: float) -> bool:
    """Say whether lenses worn in each other's eye would look like this: the eye that needs more is worse than the
    nights explain, the other, which gets too much, is not (it may even be better, or hide its plus)."""
    if abs(worse_size_d) - abs(other_size_d) < SWAP_APART_D:
        return False
    last = sight_checks(other)[-LOOKED_AT:]
    return bool(last) and median(one.chance for one in last) <= 0.5


def chance_of_too_much_plus(residual_d: Array, spread_d: Array) -> Array:
    """Return the chance that the residual is beyond +1.00 D, (n_times,)."""
    beyond: Array = np.mean(1.0 - ndtr((TOO_MUCH_PLUS_D - residual_d) / np.maximum(spread_d, 1e-9)), axis=-1)
    return beyond
