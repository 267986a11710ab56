"""Which check would teach most: how much a sight check is expected to move an answer that hangs on a chance.

For each reading that may come, the draws are weighed by it and the chance is asked again; how widely those chances
scatter is what the check is worth. 0: the answer stands whatever it says.
"""

from __future__ import annotations

import numpy as np

from companion.fade.band import residuals_that_meet
from companion.fade.observation import SightReading, expected, log_density
from companion.fade.parameters import Array
from companion.fade.population import Draws

WORTH_ASKING = 0.06
"""From this swing of the chance on, a check is worth a family's minute. Design."""
_READINGS = 40
"""So many possible readings are tried: one from each of these draws."""


def swing(
    draws: Draws,
    at_check: tuple[Array, Array],
    at_target: tuple[Array, Array],
    reading: SightReading,
    target_logmar: float,
    target_distance_m: float | None = None,
) -> float:
    """Return by how much (one standard deviation) the check would move the chance of meeting the target, 0 to 0.5.

    ``at_check``, ``at_target``: mean and spread [D] of the residual at the check and when the target is asked for,
    each (n,). Only distance and spread of ``reading`` count, and a draw that strays at the check strays then too.
    """
    now_d = at_check[0] + at_check[1] * draws.score
    then_d = at_target[0] + at_target[1] * draws.score
    lowest, highest = residuals_that_meet(draws, target_logmar, target_distance_m)
    meets = (lowest <= then_d) & (then_d <= highest)
    what = expected(draws, reading, now_d, np.full_like(now_d, 1e-6))
    picked = np.linspace(0, draws.count - 1, _READINGS).round().astype(int)
    # Each possible reading: a draw's own, a little better or worse than it should be, evenly.
    noise = np.tile((-1.2, -0.4, 0.4, 1.2), _READINGS // 4)
    chances = []
    for one, off in zip(picked, noise, strict=True):
        possible = SightReading(reading.at_h, float(what.value[one] + off * what.spread[one]))
        log_weight = log_density(possible, what)
        weight = np.exp(log_weight - log_weight.max())
        chances.append(float(weight @ meets / weight.sum()))
    return float(np.std(chances))


def worth_asking(swings: dict[str, float]) -> str | None:
    """Return the name of the check that would move an answer most, if it is worth asking for; None: it is not."""
    best = max(swings, key=swings.__getitem__, default=None)
    return best if best is not None and swings[best] >= WORTH_ASKING else None
