"""Adaptive importance sampling over scores that are standard normal before any data. Knows nothing of eyes.

Deterministic: the scores of a round are even quantiles in an order fixed by the round's number.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

import numpy as np

from companion.fade.parameters import Array
from companion.fade.population import Indices, normal_scores

SCOUTS = 400
ENOUGH_SCOUTS = 60.0
"""Effective draws that a round's mean and covariance rest on."""
MOST_ROUNDS = 8
GOOD_ROUND = 0.35
"""From this share of effective draws on, another round would not help."""
NARROW, WIDE = (0.60, 1.15), (0.25, 3.0)
"""Share of the draws, and the variance they are spread by, about the place found; the rest is the population."""
NEEDED_EFFECTIVE = 100.0
MOST_REPEATS = 2
"""So often the last round is repeated where too few of its draws count."""
_LAST_STREAM, _FIRST_STREAM = 10, 11


@dataclass(frozen=True)
class Place:
    """Where in score space belief lives: mean (d,) and covariance (d, d). A snapshot keeps it."""

    mean: Array
    covariance: Array


class Judged(Protocol):
    @property
    def log_likelihood(self) -> Array: ...


J = TypeVar("J", bound=Judged)


@dataclass(frozen=True)
class Sample(Generic[J]):
    """Scores (d, n), what was made of them, each one's log weight before any data: population over proposal."""

    scores: Array
    judged: J
    log_base: Array
    place: Place

    @property
    def log_weight(self) -> Array:
        return self.log_base + self.judged.log_likelihood

    @property
    def belief(self) -> Place:
        """The weighted mean and covariance of the scores."""
        return moments(self.scores, weights_of(self.log_weight))


def sample(dimensions: int, count: int, judge: Callable[[Array], J], place: Place | None = None) -> Sample[J]:
    """Sample ``count`` scores where the likelihood that ``judge`` finds lives.

    A few rounds look for it, their weights tempered until enough draws count; a last one samples there, always
    with some draws from the population itself. A ``place`` from before saves the search, if it is still good.
    """

    def turn(at: Place | None, size: int, stream: int) -> tuple[Array, J, Array]:
        scores = _scores(at, dimensions, size, stream)
        return scores, judge(scores), _log_base(scores, at)

    if place is not None:
        last = Sample(*turn(place, count, _LAST_STREAM), place)
        if effective(weights_of(last.log_weight)) >= NEEDED_EFFECTIVE:
            return last
    found: Place | None = None
    for number in range(MOST_ROUNDS):
        scores, judged, log_base = turn(found, SCOUTS, _FIRST_STREAM + number)
        power = _power(log_base + judged.log_likelihood)
        weights = weights_of(log_base + power * judged.log_likelihood)
        found = _leaning(moments(scores, weights), effective(weights))
        if power == 1.0 and effective(weights) >= GOOD_ROUND * SCOUTS:
            break
    assert found is not None
    last = Sample(*turn(found, count, _LAST_STREAM), found)
    for _ in range(MOST_REPEATS):
        if effective(weights_of(last.log_weight)) >= NEEDED_EFFECTIVE:
            break
        weights = weights_of(last.log_weight)
        found = _leaning(moments(last.scores, weights), effective(weights))
        last = Sample(*turn(found, count, _LAST_STREAM), found)
    return last


# -- scores ------------------------------------------------------------------------------------------------------
def _scores(place: Place | None, dimensions: int, count: int, stream: int) -> Array:
    """Return score vectors (d, count): narrow, wide and population draws in their shares."""
    if place is None:
        return normal_scores(stream, dimensions, count)
    root = np.linalg.cholesky(place.covariance)
    parts = []
    for part, (share, variance) in enumerate((NARROW, WIDE), start=1):
        scores = normal_scores(stream + 100 * part, dimensions, round(share * count))
        parts.append(place.mean[:, None] + np.sqrt(variance) * root @ scores)
    parts.append(normal_scores(stream + 300, dimensions, count - sum(one.shape[1] for one in parts)))
    return np.concatenate(parts, axis=1)


def _log_base(scores: Array, place: Place | None) -> Array:
    """Return the log density of the population over that of the mixture drawn from."""
    if place is None:
        return np.zeros(scores.shape[1])
    population = -0.5 * (scores**2).sum(axis=0)
    away, scale = _apart(scores, place)
    parts = [population + np.log(1.0 - NARROW[0] - WIDE[0])]
    for share, variance in (NARROW, WIDE):
        parts.append(np.log(share) - 0.5 * away / variance - scale - 0.5 * len(scores) * np.log(variance))
    base: Array = population - np.logaddexp.reduce(parts)
    return base


def log_normal(scores: Array, place: Place) -> Array:
    """Return the log density (n,) of a normal at the scores, but for the constant that all normals here share."""
    away, scale = _apart(scores, place)
    return -0.5 * away - scale


def _apart(scores: Array, place: Place) -> tuple[Array, float]:
    root = np.linalg.cholesky(place.covariance)
    away: Array = (np.linalg.solve(root, scores - place.mean[:, None]) ** 2).sum(axis=0)
    return away, float(np.log(np.diag(root)).sum())


def moments(scores: Array, weights: Array) -> Place:
    mean = scores @ weights
    off = scores - mean[:, None]
    return Place(mean, (off * weights) @ off.T)


def _leaning(place: Place, draws: float) -> Place:
    """Return a place to draw from: the fewer draws it rests on, the less its correlations are believed."""
    trust = draws / (draws + len(place.mean))
    apart = np.diag(np.diag(place.covariance))
    return Place(place.mean, trust * place.covariance + (1.0 - trust) * apart + 0.01 * np.eye(len(place.mean)))


# -- weights -----------------------------------------------------------------------------------------------------
def weights_of(log_weight: Array) -> Array:
    weights = np.exp(log_weight - log_weight.max())
    normed: Array = weights / weights.sum()
    return normed


def log_sum(log_weight: Array) -> float:
    most = log_weight.max()
    return float(most + np.log(np.exp(log_weight - most).sum()))


def effective(weights: Array) -> float:
    """Return how many equally weighted draws these are worth."""
    return float(1.0 / (weights @ weights))


def _power(log_weight: Array) -> float:
    """Return the largest power of the weight, up to 1, that leaves enough effective draws."""
    if effective(weights_of(log_weight)) >= ENOUGH_SCOUTS:
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(20):
        middle = 0.5 * (low + high)
        enough = effective(weights_of(middle * log_weight)) >= ENOUGH_SCOUTS
        low, high = (middle, high) if enough else (low, middle)
    return low


def evenly(weights: Array) -> Indices:
    """Return which draws to keep, and how often, so that each kept one is as likely as the next."""
    count = len(weights)
    chosen: Indices = np.searchsorted(np.cumsum(weights), (np.arange(count) + 0.5) / count)
    return np.minimum(chosen, count - 1)
