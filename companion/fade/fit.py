"""The personal fit: what the readings of an eye, and those of its fellow, say about its parameters and its state.

Scores are standard normal in the population, so that prior and spread need no units. Each eye is sampled by its
own readings first; then each learns from the other's belief, since the eyes of one person are alike.
Deterministic: a record gives the same fit on every machine and day.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

import numpy as np

from companion.fade import parameters as table
from companion.fade.course import Stretch
from companion.fade.filter import Followed, State, follow
from companion.fade.hindsight import Foretold, contradict, sight_checks
from companion.fade.observation import Reading, chance_below, measured
from companion.fade.parameters import Array
from companion.fade.population import COUNT, Draws, Treatment, draw, drawn_at
from companion.fade.sampling import (
    Place,
    Sample,
    effective,
    evenly,
    log_normal,
    log_sum,
    sample,
    weights_of,
)

FALLBACK_WIDER = 1.3
"""What the readings cannot be trusted for is told from the population, its spreads so much wider."""
STALE_DAYS = 60
PERSONAL_CHECKS, PERSONAL_DAYS, PERSONAL_LEARNED = 6, 30, 1.0
"""Personal: so many sight checks, the last one not older, and belief moved by so many nats. Design."""

Start = Callable[[Draws], State]
Key = TypeVar("Key")


@dataclass(frozen=True)
class Case:
    """One eye's record up to ``until_h``. ``start`` gives the state in which it begins."""

    treatment: Treatment
    start: Start
    stretches: Sequence[Stretch]
    readings: Sequence[Reading]
    until_h: float


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
class _Judged:
    draws: Draws
    followed: Followed

    @property
    def log_likelihood(self) -> Array:
        return self.followed.log_likelihood


def fit(case: Case, place: Place | None = None) -> Fit:
    """Fit one eye alone. ``place`` of an earlier fit of the same eye saves the search, if it is still good."""
    return _finished(case, _sampled(case, place), None)


def fit_together(cases: Mapping[Key, Case], places: Mapping[Key, Place] | None = None) -> dict[Key, Fit]:
    """Fit the eyes of one person, each by its own readings and by what its fellow's have taught."""
    sampled = {key: _sampled(case, (places or {}).get(key)) for key, case in cases.items()}
    foretold = {key: _foretold(sampled[key], case.readings) for key, case in cases.items()}
    beliefs = {key: sampled[key].belief for key, case in cases.items() if _trusted(case, foretold[key])}
    fits = {}
    for key, case in cases.items():
        fellow = next((belief for other, belief in beliefs.items() if other != key), None)
        fits[key] = _finished(case, sampled[key], fellow)
    return fits


def _sampled(case: Case, place: Place | None) -> Sample[_Judged]:
    def judge(scores: Array) -> _Judged:
        draws = drawn_at(case.treatment, scores)
        return _Judged(
            draws, follow(draws, case.start(draws), case.stretches, case.readings, until_h=case.until_h)
        )

    return sample(len(table.FREE), COUNT, judge, place)


def _trusted(case: Case, foretold: Sequence[Foretold]) -> bool:
    return _falls_back(case, foretold) is None


def _falls_back(case: Case, foretold: Sequence[Foretold]) -> FellBack | None:
    if foretold and case.until_h - foretold[-1].reading.at_h > 24 * STALE_DAYS:
        return FellBack.STALE
    return FellBack.CONTRADICTORY if contradict(sight_checks(foretold)) else None


def _foretold(sampled: Sample[_Judged], readings: Sequence[Reading]) -> tuple[Foretold, ...]:
    followed, log_weight = sampled.judged.followed, sampled.log_base
    found = []
    for reading, what, step in zip(readings, followed.foretold, followed.log_steps, strict=True):
        weights = weights_of(log_weight)
        chance = weights @ chance_below(measured(reading), what)
        found.append(Foretold(reading, float(weights @ what.value), float(chance)))
        log_weight = log_weight + step
    return tuple(found)


def _finished(case: Case, sampled: Sample[_Judged], fellow: Place | None) -> Fit:
    foretold = _foretold(sampled, case.readings)
    why = _falls_back(case, foretold)
    if why is not None:
        draws = draw(case.treatment, wider=FALLBACK_WIDER)
        state = follow(draws, case.start(draws), case.stretches, until_h=case.until_h).state
        return Fit(draws, state, float(COUNT), 0.0, sampled.place, foretold, why)
    taught = np.zeros(COUNT) if fellow is None else _taught(sampled.scores, fellow)
    log_weight = sampled.log_weight + taught
    weights = weights_of(log_weight)
    evidence = log_sum(log_weight) - log_sum(sampled.log_base)
    learned = float(weights @ (sampled.judged.log_likelihood + taught) - evidence)
    index = evenly(weights)
    return Fit(
        sampled.judged.draws.picked(index),
        sampled.judged.followed.state.picked(index),
        effective(weights),
        max(0.0, learned),
        sampled.place,
        foretold,
        None,
    )


def _taught(scores: Array, fellow: Place) -> Array:
    """Return the log of how much likelier each score vector is, once the fellow eye is known so far.

    Each score of the two eyes is bivariate normal with correlation ``ALIKE``.
    """
    alike = table.ALIKE
    apart = np.diag(np.full(len(scores), 1.0 - alike**2))
    expected = Place(alike * fellow.mean, apart + alike**2 * fellow.covariance)
    taught: Array = log_normal(scores, expected) + 0.5 * (scores**2).sum(axis=0)
    return taught
