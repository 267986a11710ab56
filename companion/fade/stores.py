"""The two stores solved exactly: the affine map that an hour, a night or a day of wear or rest makes of (F, S).

With u = 1 - F - S at the start of wear, e = exp(-t/a), q = exp(-t/c):

    F(t) = q F + h u,   1 - F(t) - S(t) = e u,   h = (1/a) * integral_0^t exp(-x/a) exp(-(t-x)/c) dx
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from companion.fade.parameters import Array


@dataclass(frozen=True)
class Rates:
    """Time constants [h], each (n,)."""

    build_h: Array
    settle_h: Array
    fresh_fade_h: Array
    settled_fade_h: Array

    @property
    def count(self) -> int:
        return int(self.build_h.shape[0])


class Stores(NamedTuple):
    """Fresh and consolidated effect; shares of the most that wear can do."""

    fresh: Array
    settled: Array

    @property
    def total(self) -> Array:
        return self.fresh + self.settled


class Step(NamedTuple):
    """(F, S) -> matrix @ (F, S) + shift, for each draw: matrix (2, 2, n), shift (2, n)."""

    matrix: Array
    shift: Array

    def __call__(self, stores: Stores) -> Stores:
        m, b = self.matrix, self.shift
        return Stores(
            m[0, 0] * stores.fresh + m[0, 1] * stores.settled + b[0],
            m[1, 0] * stores.fresh + m[1, 1] * stores.settled + b[1],
        )

    def then(self, later: Step) -> Step:
        """Return this step followed by ``later``."""
        matrix = np.einsum("ijn,jkn->ikn", later.matrix, self.matrix)
        return Step(matrix, np.einsum("ijn,jn->in", later.matrix, self.shift) + later.shift)

    def fixed_point(self) -> Stores:
        """Return the state that this step leaves as it is: where repeating it for ever ends."""
        (a, b), (c, d) = np.eye(2)[:, :, None] - self.matrix
        x, y = self.shift
        det = a * d - b * c
        return Stores((d * x - b * y) / det, (a * y - c * x) / det)


def wear_terms(rates: Rates, hours: float | Array) -> tuple[Array, Array, Array]:
    """Return e, q and h (see above) after ``hours`` of wear, (n,); of several hours (k, 1) at once, (k, n)."""
    on, over = 1 / rates.build_h, 1 / rates.settle_h
    # exp(-slow t) * (1 - exp(-|on - over| t)) / |on - over|, without loss where the two rates meet.
    gap = np.abs(on - over) * hours
    shape = np.divide(-np.expm1(-gap), gap, out=np.ones_like(gap), where=gap > 1e-12)
    h: Array = on * hours * np.exp(-np.minimum(on, over) * hours) * shape
    return np.exp(-hours * on), np.exp(-hours * over), h


def rest_terms(rates: Rates, hours: float | Array) -> tuple[Array, Array]:
    """Return what is left of the fresh and of the consolidated effect after ``hours`` without a lens."""
    return np.exp(-hours / rates.fresh_fade_h), np.exp(-hours / rates.settled_fade_h)


def wear(rates: Rates, hours: float) -> Step:
    """Return what ``hours`` of wear do."""
    e, q, h = wear_terms(rates, hours)
    return Step(np.array([[q - h, -h], [e - q + h, e + h]]), np.array([h, 1 - e - h]))


def rest(rates: Rates, hours: float) -> Step:
    """Return what ``hours`` without a lens do."""
    zero = np.zeros(rates.count)
    f, s = rest_terms(rates, hours)
    return Step(np.array([[f, zero], [zero, s]]), np.array([zero, zero]))


def either(worn: Array, if_worn: Step, if_not: Step) -> Step:
    """Return one step or the other for each draw, by the truth of ``worn`` (n,)."""
    yes = worn.astype(bool)
    return Step(np.where(yes, if_worn.matrix, if_not.matrix), np.where(yes, if_worn.shift, if_not.shift))


def nothing_yet(rates: Rates) -> Stores:
    """Return the untreated eye."""
    return Stores(np.zeros(rates.count), np.zeros(rates.count))


REFERENCE_HOURS = 8.0


def settled_morning(rates: Rates) -> Array:
    """Return F + S on the morning of a wearer settled on the reference night: what a share of 1 stands for."""
    day = rest(rates, 24 - REFERENCE_HOURS).then(wear(rates, REFERENCE_HOURS))
    return day.fixed_point().total
