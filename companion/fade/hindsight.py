"""How earlier forecasts fared: each reading held against what was foretold from the readings before it.

``chances``: of each reading, the chance that it would have come out at or below what it was, 0 to 1. For a sight
check near 1 means: much worse than foretold.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from companion.fade.observation import Reading, RefractionReading, SightReading, measured

OUTSIDE = 0.05
"""A reading below the 5th or above the 95th percentile of what was foretold lies outside the band."""
FAR_OUTSIDE = 0.02
RUN, LOOKED_BACK_DAYS = 12, 30
REPEATED_H = 3.0
"""Checks closer together than this are one check, taken again. Design."""
REFUTED = 0.005
"""A refraction at the practice that would come out so far to minus with so little chance refutes the fit."""
NEEDED_READINGS = 6
CONTRADICTING, CONTRADICTING_SHARE = 3, 1 / 3
"""From so many far outside, and this share of the last readings, on the record contradicts the model: 1 in 25 is
expected. Design."""
TOO_SCATTERED = 3.3
"""Or when the readings swing between the ends of their bands: by so many standard errors more than they should."""


@dataclass(frozen=True)
class Foretold:
    """One reading and what was foretold of it."""

    reading: Reading
    expected: float
    chance: float

    @property
    def off(self) -> float:
        """By how much the reading lay above (worse than) what was expected."""
        return measured(self.reading) - self.expected

    @property
    def inside(self) -> bool:
        return OUTSIDE <= self.chance <= 1.0 - OUTSIDE

    @property
    def far_outside(self) -> bool:
        return not FAR_OUTSIDE <= self.chance <= 1.0 - FAR_OUTSIDE


def contradict(foretold: Sequence[Foretold], now_h: float) -> bool:
    """Say whether the readings of the last month cannot be told by any eye of this kind.

    Any run of twelve checks is looked at: a calm week, or many checks in one evening, does not clear an eye.
    """
    recent = [one for one in foretold if now_h - one.reading.at_h <= 24 * LOOKED_BACK_DAYS]
    checks = _apart(sight_checks(recent))
    runs = [checks[start : start + RUN] for start in range(max(1, len(checks) - RUN + 1))]
    visits = [one for one in recent if isinstance(one.reading, RefractionReading)]
    return any(map(_contradicting, runs)) or bool(visits and visits[-1].chance < REFUTED)


def _contradicting(run: Sequence[Foretold]) -> bool:
    if len(run) < NEEDED_READINGS:
        return False
    far = sum(one.far_outside for one in run)
    # |2 chance - 1| is even between 0 and 1 where all is well: mean 1/2, variance 1/12.
    swing = sum(abs(2.0 * one.chance - 1.0) for one in run) / len(run)
    scattered = swing > 0.5 + TOO_SCATTERED / math.sqrt(12.0 * len(run))
    return scattered or far >= max(CONTRADICTING, CONTRADICTING_SHARE * len(run))


def _apart(checks: Sequence[Foretold]) -> list[Foretold]:
    """Return the checks without those that only repeat one made shortly before."""
    kept: list[Foretold] = []
    for one in checks:
        if not kept or one.reading.at_h - kept[-1].reading.at_h >= REPEATED_H:
            kept.append(one)
    return kept


def sight_checks(foretold: Sequence[Foretold]) -> list[Foretold]:
    return [one for one in foretold if isinstance(one.reading, SightReading)]
