"""What people are like: scores turned into the parameters of one eye, and the draws of an eye of which nothing
else is known.

A personal fit returns the same ``Draws``. The draws are the same for the same eye, always: no clock and no dice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from companion.fade import parameters as table
from companion.fade.parameters import Array, Parameter
from companion.fade.stores import Rates

COUNT = 1000
LN_10 = math.log(10.0)
_SEED = 20261001
_SCORES_STREAM, _DEVIATION_STREAM = 0, 2
Indices = NDArray[np.intp]


@dataclass(frozen=True)
class Treatment:
    """One eye's treatment: refraction before [D], residual aimed for on a settled morning [D], age [years]."""

    baseline_d: float
    aim_d: float
    age_years: float
    best_acuity_logmar: float | None = None

    @property
    def size_d(self) -> float:
        return self.aim_d - self.baseline_d


@dataclass(frozen=True)
class Draws:
    """Parameters of one eye, each (n,), every draw as likely as the next.

    ``ids`` number the draws: which unknown nights were worn goes by the number, so that the same record gives the
    same forecast.
    """

    treatment: Treatment
    ids: Indices
    rates: Rates
    gain: Array
    night_spread_d: Array
    best_acuity_logmar: Array
    loss_at_1_d: Array
    form: Array

    @property
    def count(self) -> int:
        return int(self.gain.shape[0])

    def residual_d(self, share: Array) -> Array:
        """Return the residual refraction [D] at an effect share (..., n), before any deviation."""
        return self.treatment.baseline_d + self.treatment.size_d * self.gain * share

    def chances(self, stream: int, rows: int = 1) -> Array:
        """Return chances in [0, 1), (rows, n): the same for the same stream and draw, always."""
        return uniform(stream, rows)[:, self.ids]

    @cached_property
    def bend(self) -> Array:
        """k^2 of the acuity form: how sharply sight falls with blur, (n,)."""
        k_squared: Array = np.expm1(2.0 * LN_10 * self.loss_at_1_d / self.form)
        return k_squared

    @property
    def score(self) -> Array:
        """How far each draw strays, in standard deviations, (n,)."""
        row: Array = normal_scores(_DEVIATION_STREAM, 1, self.count)[0]
        return row

    def picked(self, index: Indices) -> Draws:
        """Return these draws, some once, some more often, some not at all."""
        return Draws(
            self.treatment,
            self.ids[index],
            Rates(*(getattr(self.rates, one.name)[index] for one in fields(self.rates))),
            self.gain[index],
            self.night_spread_d[index],
            self.best_acuity_logmar[index],
            self.loss_at_1_d[index],
            self.form[index],
        )


@lru_cache(maxsize=512)
def uniform(stream: int, rows: int = 1) -> Array:
    """Return chances in [0, 1), (rows, COUNT): the same for the same ``stream``, always."""
    return np.random.Generator(np.random.PCG64([_SEED, stream])).random((rows, COUNT))


@lru_cache(maxsize=64)
def normal_scores(stream: int, rows: int, count: int = COUNT) -> Array:
    """Return standard normal scores (rows, count): the same even quantiles in each row, in unrelated order."""
    dice = np.random.Generator(np.random.PCG64([_SEED, stream, count])).random((rows, count))
    even: Array = ndtri((np.arange(count) + 0.5) / count)
    return even[dice.argsort(axis=1, kind="stable")]


def draw(treatment: Treatment, *, wider: float = 1.0) -> Draws:
    """Draw the parameters of an eye from the population, its spreads ``wider`` than usual.

    The same person-to-person scores serve each eye: two eyes with the same prescription get the same forecast.
    """
    return drawn_at(treatment, normal_scores(_SCORES_STREAM, len(table.FREE)), wider=wider)


def drawn_at(treatment: Treatment, scores: Array, *, wider: float = 1.0) -> Draws:
    """Return the draws at standard normal ``scores`` (one row for each parameter of ``FREE``, n)."""
    z = dict(zip((one.name for one in table.FREE), scores, strict=True))
    none = np.zeros(scores.shape[1])
    size = treatment.size_d
    older = treatment.age_years > table.OLDER_YEARS
    effect_wider = wider * (table.WIDER if older or abs(size) > table.LARGE_TREATMENT_D else 1.0)
    if size < 0:
        effect_wider *= table.STEEPENING_WIDER

    def at(one: Parameter, scale: float = 1.0, spread: float = 1.0) -> Array:
        return one.at(z.get(one.name, none), scale=scale, wider=spread)

    person = at(table.FADE_FACTOR, spread=effect_wider) * table.fade_scale(size)
    best = table.BEST_ACUITY
    if treatment.best_acuity_logmar is not None:
        measured = treatment.best_acuity_logmar
        best = replace(best, median=measured, spread=table.MEASURED_BEST_SPREAD, low=-9.0, high=9.0)
    return Draws(
        treatment,
        np.arange(scores.shape[1]) % COUNT,
        Rates(
            at(table.BUILD_H, table.OLDER_BUILD_SCALE if older else 1.0, effect_wider),
            at(table.SETTLE_H, spread=effect_wider),
            at(table.FRESH_FADE_H, spread=effect_wider) * person,
            at(table.SETTLED_FADE_H) * person,
        ),
        at(table.GAIN, spread=effect_wider),
        at(table.NIGHT_SPREAD_D, spread=wider),
        at(best, spread=wider),
        at(table.LOSS_AT_1_D),
        at(table.FORM),
    )
