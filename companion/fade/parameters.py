"""The parameter table: each number of the model with its unit, its spread over people, and where it comes from.

``log``: value = median * spread ** z; ``plain``: value = median + spread * z; z standard normal, kept in bounds.
INF: our inference from the published figures, not itself published. docs/science.md discusses them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Parameter:
    name: str
    unit: str
    median: float
    spread: float
    law: Literal["log", "plain"]
    low: float
    high: float
    source: str

    def at(self, z: Array, *, scale: float = 1.0, wider: float = 1.0) -> Array:
        """Return the values at standard normal ``z``, the median times ``scale``, the spread times ``wider``."""
        if self.law == "log":
            drawn = self.median * scale * np.exp(math.log(self.spread) * wider * z)
        else:
            drawn = self.median * scale + self.spread * wider * z
        return np.clip(drawn, self.low, self.high)


BUILD_H = Parameter(
    "build_h", "h", 9.5, 1.35, "log", 3.0, 30.0,
    "INF: night 1 = 0.54 to 0.67 of settled (Eye Contact Lens 2004;30:189; J Ophthalmic Vis Res 2020)",
)  # fmt: skip
SETTLE_H = Parameter(
    "settle_h", "h", 22.0, 1.3, "log", 6.0, 40.0,
    "INF: less loss a day once settled (Eye Contact Lens 2003;29:137; memory Int Contact Lens Clin 1998;25:59)",
)  # fmt: skip
FRESH_FADE_H = Parameter(
    "fresh_fade_h", "h", 48.0, 1.25, "log", 12.0, 80.0,
    "INF: 20 to 35 % lost over the first day (Int Contact Lens Clin 1998;25:59, from memory)",
)  # fmt: skip
SETTLED_FADE_H = Parameter(
    "settled_fade_h", "h", 82.0, 1.0, "log", 82.0, 82.0,
    "INF: days 1 to 14 off (Eye Contact Lens 2004;30:247; Eye Contact Lens 2004;30:254)",
)  # fmt: skip
FADE_FACTOR = Parameter(
    "fade_factor", "1", 1.0, 1.45, "log", 0.25, 4.0,
    "INF: one person's factor on both fade times; single-store band 45 to 110 h around 72 h",
)  # fmt: skip
GAIN = Parameter(
    "gain", "1", 0.95, 0.16, "plain", 0.30, 1.40,
    "INF: spread of the change achieved (Invest Ophthalmol Vis Sci 2003;44:2518; Optom Vis Sci 2004;81:407)",
)  # fmt: skip
NIGHT_SPREAD_D = Parameter(
    "night_spread_d", "D", 0.15, 1.4, "log", 0.05, 0.35, "design: one night does not end like the other"
)
BEST_ACUITY = Parameter(
    "best_acuity_logmar", "logMAR", 0.02, 0.06, "plain", -0.30, 0.40,
    "treated eyes at best 0.00 to 0.10 (J Ophthalmic Vis Res 2020; Optom Vis Sci 2004;81:407)",
)  # fmt: skip
MEASURED_BEST_SPREAD = 0.03
"""Spread [logMAR] of a best acuity that the practice measured. Design; within-test SD 0.04 (Eye 1997;11:411)."""
LOSS_AT_1_D = Parameter(
    "loss_at_1_d", "logMAR", 0.42, 0.08, "plain", 0.20, 0.70,
    "0.30 to 0.53 by the published forms (Optom Vis Sci 1991;68:591, memory; Optom Vis Sci 2015, V)",
)  # fmt: skip
FORM = Parameter(
    "form", "1", 1.2, 1.3, "log", 0.7, 2.5,
    "logMAR a decade of large blur: 1 in Optom Vis Sci 1991;68:591 (memory), 2 in Optom Vis Sci 2015 (V); INF",
)  # fmt: skip
TABLE = (
    BUILD_H, SETTLE_H, FRESH_FADE_H, SETTLED_FADE_H, FADE_FACTOR, GAIN, NIGHT_SPREAD_D, BEST_ACUITY, LOSS_AT_1_D,
    FORM,
)  # fmt: skip
FREE = tuple(one for one in TABLE if one.spread != (1.0 if one.law == "log" else 0.0))
"""What differs from person to person: a fit learns these."""

ALIKE = 0.7
"""Correlation of each score between the two eyes of a person. Design: one fitting, one habit, one pair of lids."""

DRIFT_D, DRIFT_H = 0.15, 45 * 24.0
"""Slow wandering of the refraction: spread [D] and memory [h]. Design: what is old weighs less."""

# Larger treatments fade sooner: direction Eye Contact Lens 2004;30:247. Slope INF: 100 h at 1 D, 55 h at 5 D.
SIZE_SLOPE_PER_D = math.log(55 / 100) / 4
SIZE_REFERENCE_D = 3.5
SIZE_RANGE_D = (1.5, 5.5)
"""Treatment sizes [D], the surplus of the aim included, between which the slope is said to hold."""

# Wider where less is known, slower to build with age (Optom Vis Sci 2005;82:505, direction from memory). INF.
LARGE_TREATMENT_D = 4.5
OLDER_YEARS = 40
OLDER_BUILD_SCALE = 1.2
WIDER = 1.25
STEEPENING_WIDER = 1.5
"""A lens that steepens has hardly been studied: all spreads of the effect grow by this."""


def fade_scale(treatment_d: float) -> float:
    """Return the factor on both fade times for a treatment of so many dioptres."""
    low, high = SIZE_RANGE_D
    return math.exp(SIZE_SLOPE_PER_D * (min(max(abs(treatment_d), low), high) - SIZE_REFERENCE_D))
