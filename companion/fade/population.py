"""What people are like as a whole: draws of the parameters for one eye about which nothing else is known.

A personal fit returns the same ``Draws``. The draws are the same for the same eye, always: no clock and no dice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from statistics import NormalDist

import numpy as np

from companion.fade import parameters as table
from companion.fade.parameters import Array
from companion.fade.stores import Rates

COUNT = 2000
_SEED = 20261001


@dataclass(frozen=True)
class Treatment:
    """One eye's treatment: refraction before [D], residual aimed for on a settled morning [D], age [years]."""

    baseline_d: float
    aim_d: float
    age_years: float
    best_acuity_logmar: float | None = None


@dataclass(frozen=True)
class Draws:
    """Parameters of one eye, each (n,), every draw as likely as the next."""

    treatment: Treatment
    rates: Rates
    gain: Array
    night_noise_d: Array
    best_acuity_logmar: Array
    blur_per_d: Array

    def residual_d(self, share: Array) -> Array:
        """Return the residual refraction [D] at an effect share (..., n)."""
        aim, baseline = self.treatment.aim_d, self.treatment.baseline_d
        return baseline + (aim - baseline) * self.gain * share + self.night_noise_d * np.minimum(share, 1.0)


def uniform(stream: int, rows: int = 1) -> Array:
    """Return chances in [0, 1), (rows, COUNT): the same for the same ``stream``, always."""
    return np.random.Generator(np.random.PCG64([_SEED, stream])).random((rows, COUNT))


@cache
def _spread_evenly() -> Array:
    """Return standard normal scores (n_parameters, n): the same even quantiles in each row, in unrelated order."""
    normal = NormalDist()
    even = np.array([normal.inv_cdf((i + 0.5) / COUNT) for i in range(COUNT)])
    return even[uniform(0, len(table.TABLE)).argsort(axis=1, kind="stable")]


def draw(treatment: Treatment) -> Draws:
    """Draw the parameters of an eye from the population.

    The same person-to-person scores serve each eye: two eyes with the same prescription get the same forecast.
    """
    z = dict(zip((one.name for one in table.TABLE), _spread_evenly(), strict=True))
    size = treatment.aim_d - treatment.baseline_d
    older = treatment.age_years > table.OLDER_YEARS
    wider = table.WIDER if older or abs(size) > table.LARGE_TREATMENT_D else 1.0
    if size < 0:
        wider *= table.STEEPENING_WIDER
    person = table.FADE_FACTOR.at(z["fade_factor"], wider=wider) * table.fade_scale(size)
    best = table.BEST_ACUITY
    if treatment.best_acuity_logmar is not None:
        measured = treatment.best_acuity_logmar
        best = replace(best, median=measured, spread=table.MEASURED_BEST_SPREAD, low=-9.0, high=9.0)
    return Draws(
        treatment,
        Rates(
            table.BUILD_H.at(z["build_h"], scale=table.OLDER_BUILD_SCALE if older else 1.0, wider=wider),
            table.SETTLE_H.at(z["settle_h"], wider=wider),
            table.FRESH_FADE_H.median * person,
            table.SETTLED_FADE_H.median * person,
        ),
        table.GAIN.at(z["gain"], wider=wider),
        table.NIGHT_NOISE_D.at(z["night_noise_d"]),
        best.at(z["best_acuity_logmar"]),
        table.BLUR_PER_D.at(z["blur_per_d"]),
    )
