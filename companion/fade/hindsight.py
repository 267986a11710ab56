"""How earlier forecasts fared: each reading held against what was foretold from the readings before it.

``chances``: of each reading, the chance that it would have come out at or below what it was, 0 to 1. For a sight
check near 1 means: much worse than foretold.
"""

from __future__ import annotations

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
    far = sum(one.far_outside for one in last)
    return len(last) >= NEEDED_READINGS and far >= max(CONTRADICTING, CONTRADICTING_SHARE * len(last))


def sight_checks(foretold: Sequence[Foretold]) -> list[Foretold]:
    return [one for one in foretold if isinstance(one.reading, SightReading)]
