"""The personal fit: what the readings of one eye say about its parameters, by adaptive importance sampling.

Scores are standard normal in the population, so prior and spread need no units. A few small rounds find where the
likelihood lives (its weight tempered until enough draws count), a last one samples there, always with some draws
from the population itself. Deterministic: a record gives the same fit on every machine and day.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from companion.fade import parameters as table
from companion.fade.course import Stretch
from companion.fade.filter import Followed, State, follow
from companion.fade.hindsight import Foretold, contradict, sight_checks
from companion.fade.observation import Reading, chance_below, measured
from companion.fade.parameters import Array
from companion.fade.population import COUNT, Draws, Treatment, draw, drawn_at, normal_scores

DIMENSIONS = len(table.FREE)
SCOUTS = 400
ENOUGH_SCOUTS = 60.0
"""Effective draws that a round's mean and covariance rest on."""
MOST_ROUNDS = 8
GOOD_ROUND = 0.35
"""From this share of effective draws on, another round would not help."""
NARROW, WIDE = (0.60, 1.15), (0.25, 3.0)
"""Share of the draws, and the variance they are spread by, about the place found; the rest is the population."""
NEEDED_EFFECTIVE = 100.0
_FIRST_STREAM = 10

FALLBACK_WIDER = 1.3
"""What the readings cannot be trusted for is told from the population, its spreads so much wider."""
STALE_DAYS = 60
PERSONAL_CHECKS, PERSONAL_DAYS, PERSONAL_LEARNED = 6, 30, 1.0
"""Personal: so many sight checks, the last one not older, and belief moved by so many nats. Design."""

Start = Callable[[Draws], State]


@dataclass(frozen=True)
class Place:
    """Where in score space the likelihood lives: mean (d,) and covariance (d, d). A snapshot keeps it."""

    mean: Array
    covariance: Array


class FellBack(StrEnum):
    CONTRADICTORY = "contradictory"
    STALE = "stale"


@dataclass(frozen=True)
class Fit:
    """What is thought of one eye after its readings.

    draws, state: equally likely draws, and the eye at the cut-off in each.
    effective: how many independent draws they are worth. learned: how far the readings have moved belief away from
    the population, in nats (0: not at all). place: to start the next fit from. foretold: how each reading was
    foretold by those before it. fell_back: why the readings were set aside, if they were.
    """

    draws: Draws
    state: State
    effective: float
    learned: float
    place: Place
    foretold: tuple[Foretold, ...]
    fell_back: FellBack | None

    @property
    def is_personal(self) -> bool:
        """Say whether the forecast is this eye's own more than the population's."""
        checks = sight_checks(self.foretold)
        return (
            self.fell_back is None
            and len(checks) >= PERSONAL_CHECKS
            and self.state.at_h - checks[-1].reading.at_h <= 24 * PERSONAL_DAYS
            and self.learned >= PERSONAL_LEARNED
        )


@dataclass(frozen=True)
class _Sample:
    scores: Array
    draws: Draws
    followed: Followed
    log_base: Array
    """Log weight before any reading: population over proposal."""

    @property
    def log_weight(self) -> Array:
        return self.log_base + self.followed.log_likelihood


def fit(
    treatment: Treatment,
    start: Start,
    stretches: Sequence[Stretch],
    readings: Sequence[Reading],
    until_h: float,
    place: Place | None = None,
) -> Fit:
    """Fit one eye to its readings up to ``until_h``.

    ``start`` gives the state in which the record begins. ``place`` of an earlier fit of the same eye saves the
    rounds that look for it, if it is still good.
    """

    def sample(at: Place | None, count: int, stream: int) -> _Sample:
        scores = _scores(at, count, stream)
        draws = drawn_at(treatment, scores)
        followed = follow(draws, start(draws), stretches, readings, until_h=until_h)
        return _Sample(scores, draws, followed, _log_base(scores, at))

    def finished(last: _Sample, at: Place) -> Fit:
        foretold = _foretold(last, readings)
        why = _falls_back(foretold, until_h)
        if why is None:
            return _finished(last, at, foretold)
        draws = draw(treatment, wider=FALLBACK_WIDER)
        state = follow(draws, start(draws), stretches, until_h=until_h).state
        return Fit(draws, state, float(COUNT), 0.0, at, foretold, why)

    if place is not None:
        last = sample(place, COUNT, _FIRST_STREAM)
        if _effective(_weights(last.log_weight)) >= NEEDED_EFFECTIVE:
            return finished(last, place)
    found: Place | None = None
    for turn in range(MOST_ROUNDS):
        scouts = sample(found, SCOUTS, _FIRST_STREAM + 1 + turn)
        power = _power(scouts.log_weight)
        weights = _weights(power * scouts.log_weight + (1.0 - power) * scouts.log_base)
        found = _place(scouts.scores, weights)
        if power == 1.0 and _effective(weights) >= GOOD_ROUND * SCOUTS:
            break
    assert found is not None
    return finished(sample(found, COUNT, _FIRST_STREAM), found)


def _falls_back(foretold: Sequence[Foretold], until_h: float) -> FellBack | None:
    if foretold and until_h - foretold[-1].reading.at_h > 24 * STALE_DAYS:
        return FellBack.STALE
    return FellBack.CONTRADICTORY if contradict(sight_checks(foretold)) else None


def _foretold(sample: _Sample, readings: Sequence[Reading]) -> tuple[Foretold, ...]:
    log_weight = sample.log_base
    found = []
    for reading, what, step in zip(readings, sample.followed.foretold, sample.followed.log_steps, strict=True):
        weights = _weights(log_weight)
        chance = weights @ chance_below(measured(reading), what)
        found.append(Foretold(reading, float(weights @ what.value), float(chance)))
        log_weight = log_weight + step
    return tuple(found)


def _finished(sample: _Sample, place: Place, foretold: tuple[Foretold, ...]) -> Fit:
    weights = _weights(sample.log_weight)
    evidence = _log_sum(sample.log_weight) - _log_sum(sample.log_base)
    learned = float(weights @ sample.followed.log_likelihood - evidence)
    index = _spread_out(weights)
    return Fit(
        sample.draws.picked(index),
        sample.followed.state.picked(index),
        _effective(weights),
        max(0.0, learned),
        place,
        foretold,
        None,
    )


# -- sampling --------------------------------------------------------------------------------------------------
def _scores(place: Place | None, count: int, stream: int) -> Array:
    """Return score vectors (d, count): narrow, wide and population draws in their shares."""
    if place is None:
        return normal_scores(stream, DIMENSIONS, count)
    root = np.linalg.cholesky(place.covariance)
    parts = []
    for part, (share, variance) in enumerate((NARROW, WIDE), start=1):
        scores = normal_scores(stream + 100 * part, DIMENSIONS, round(share * count))
        parts.append(place.mean[:, None] + np.sqrt(variance) * root @ scores)
    parts.append(normal_scores(stream + 300, DIMENSIONS, count - sum(one.shape[1] for one in parts)))
    return np.concatenate(parts, axis=1)


def _log_base(scores: Array, place: Place | None) -> Array:
    """Return the log density of the population over that of the mixture drawn from."""
    if place is None:
        return np.zeros(scores.shape[1])
    population = -0.5 * (scores**2).sum(axis=0)
    root = np.linalg.cholesky(place.covariance)
    away = (np.linalg.solve(root, scores - place.mean[:, None]) ** 2).sum(axis=0)
    scale = np.log(np.diag(root)).sum()
    parts = [population + np.log(1.0 - NARROW[0] - WIDE[0])]
    for share, variance in (NARROW, WIDE):
        parts.append(np.log(share) - 0.5 * away / variance - scale - 0.5 * DIMENSIONS * np.log(variance))
    base: Array = population - np.logaddexp.reduce(parts)
    return base


def _place(scores: Array, weights: Array) -> Place:
    mean = scores @ weights
    off = scores - mean[:, None]
    effective = _effective(weights)
    covariance = (off * weights) @ off.T
    # The fewer draws it rests on, the more the covariance leans on the population's.
    trust = effective / (effective + DIMENSIONS)
    leaning = trust * covariance + (1.0 - trust) * np.diag(np.diag(covariance))
    return Place(mean, leaning + 0.01 * np.eye(DIMENSIONS))


# -- weights ---------------------------------------------------------------------------------------------------
def _weights(log_weight: Array) -> Array:
    weights = np.exp(log_weight - log_weight.max())
    normed: Array = weights / weights.sum()
    return normed


def _log_sum(log_weight: Array) -> float:
    most = log_weight.max()
    return float(most + np.log(np.exp(log_weight - most).sum()))


def _effective(weights: Array) -> float:
    return float(1.0 / (weights @ weights))


def _power(log_weight: Array) -> float:
    """Return the largest power of the weight, up to 1, that leaves enough effective draws."""
    if _effective(_weights(log_weight)) >= ENOUGH_SCOUTS:
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(20):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _effective(_weights(middle * log_weight)) >= ENOUGH_SCOUTS else (low, middle)
    return low


def _spread_out(weights: Array) -> np.ndarray:
    """Return which draws to keep, and how often, so that each kept one is as likely as the next."""
    count = len(weights)
    ends = np.cumsum(weights)
    return np.minimum(np.searchsorted(ends, (np.arange(count) + 0.5) / count), count - 1)
