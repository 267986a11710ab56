"""How earlier forecasts fared: each reading held against what was foretold from the readings before it.

``chances``: of each reading, the chance that it would have come out at or below what it was, 0 to 1. For a sight
check near 1 means: much worse than foretold.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from companion.fade.observation import Reading, SightReading, measured

OUTSIDE = 0.05
"""A reading below the 5th or above the 95th percentile of what was foretold lies outside the band."""
FAR_OUTSIDE = 0.02
LAST_READINGS = 12
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


def contradict(foretold: Sequence[Foretold]) -> bool:
    """Say whether the last readings cannot be told by any eye of this kind."""
    last = foretold[-LAST_READINGS:]
    if len(last) < NEEDED_READINGS:
        return False
    far = sum(one.far_outside for one in last)
    # |2 chance - 1| is even between 0 and 1 where all is well: mean 1/2, variance 1/12.
    swing = sum(abs(2.0 * one.chance - 1.0) for one in last) / len(last)
    scattered = swing > 0.5 + TOO_SCATTERED / math.sqrt(12.0 * len(last))
    return scattered or far >= max(CONTRADICTING, CONTRADICTING_SHARE * len(last))


def sight_checks(foretold: Sequence[Foretold]) -> list[Foretold]:
    return [one for one in foretold if isinstance(one.reading, SightReading)]
