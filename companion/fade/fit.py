"""The personal fit: what the readings of an eye, and those of its fellow, say about its parameters and its state.

Scores are standard normal in the population, so that prior and spread need no units. Each eye is sampled by its
own readings first; then each learns from the other's belief, since the eyes of one person are alike.
Deterministic: a record gives the same fit on every machine and day.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeVar

import numpy as np

from companion.fade import parameters as table
from companion.fade.course import Stretch
from companion.fade.filter import Followed, State, follow
from companion.fade.hindsight import Foretold, contradict, sight_checks
from companion.fade.observation import Reading, at_ceiling, chance_below, measured
from companion.fade.parameters import Array
from companion.fade.population import COUNT, Draws, Treatment, draw, drawn_at
from companion.fade.sampling import (
    NEEDED_EFFECTIVE,
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
FEWEST_EFFECTIVE = 20.0
"""With fewer effective draws no eye of this kind tells the readings."""
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
            and self.effective >= NEEDED_EFFECTIVE / 2
        )


@dataclass(frozen=True)
class _Judged:
    draws: Draws
    followed: Followed
    taught: Array
    """How much likelier each draw is for what the fellow eye has shown, as a log."""

    @property
    def log_likelihood(self) -> Array:
        return self.followed.log_likelihood + self.taught


def fit(case: Case, place: Place | None = None) -> Fit:
    """Fit one eye alone. ``place`` of an earlier fit of the same eye saves the search, if it is still good."""
    return _finished(_alone(case, place), None)


def fit_together(cases: Mapping[Key, Case], places: Mapping[Key, Place] | None = None) -> dict[Key, Fit]:
    """Fit the eyes of one person, each by its own readings and by what its fellow's have taught."""
    alone = {key: _alone(case, (places or {}).get(key)) for key, case in cases.items()}
    fits = {}
    for key, one in alone.items():
        fellows = [other.sampled.belief for name, other in alone.items() if name != key and other.why is None]
        fits[key] = _finished(one, fellows[0] if fellows else None)
    return fits


@dataclass(frozen=True)
class _Alone:
    """One eye by its own readings."""

    case: Case
    sampled: Sample[_Judged]
    foretold: tuple[Foretold, ...]
    why: FellBack | None
    """Why its readings are set aside."""


def _alone(case: Case, place: Place | None) -> _Alone:
    sampled = _sampled(case, place)
    foretold = _foretold(sampled, case.readings)
    return _Alone(case, sampled, foretold, _falls_back(case, sampled, foretold))


def _sampled(case: Case, place: Place | None = None, fellow: Place | None = None) -> Sample[_Judged]:
    def judge(scores: Array) -> _Judged:
        draws = drawn_at(case.treatment, scores)
        began = case.start(draws)
        taught = np.zeros(draws.count) if fellow is None else _taught(scores, fellow)
        return _Judged(draws, follow(draws, began, case.stretches, case.readings, until_h=case.until_h), taught)

    return sample(len(table.FREE), COUNT, judge, place)


def _falls_back(case: Case, sampled: Sample[_Judged], foretold: Sequence[Foretold]) -> FellBack | None:
    if foretold and case.until_h - foretold[-1].reading.at_h > 24 * STALE_DAYS:
        return FellBack.STALE
    told_by_none = effective(weights_of(sampled.log_weight)) < FEWEST_EFFECTIVE
    if told_by_none or contradict(foretold, case.until_h):
        return FellBack.CONTRADICTORY
    return None


def _foretold(sampled: Sample[_Judged], readings: Sequence[Reading]) -> tuple[Foretold, ...]:
    followed, log_weight = sampled.judged.followed, sampled.log_base
    found = []
    for reading, what, step in zip(readings, followed.foretold, followed.log_steps, strict=True):
        weights = weights_of(log_weight)
        chance = float(weights @ chance_below(measured(reading), what))
        found.append(
            Foretold(reading, float(weights @ what.value), 0.5 * chance if at_ceiling(reading) else chance)
        )
        log_weight = log_weight + step
    return tuple(found)


def _finished(alone: _Alone, fellow: Place | None) -> Fit:
    case, sampled = alone.case, alone.sampled
    if alone.why is not None:
        draws = draw(case.treatment, wider=FALLBACK_WIDER)
        state = follow(draws, case.start(draws), case.stretches, until_h=case.until_h).state
        return Fit(draws, state, float(COUNT), 0.0, sampled.place, alone.foretold, alone.why)
    last = sampled if fellow is None else _reweighed(case, sampled, fellow)
    weights = weights_of(last.log_weight)
    evidence = log_sum(last.log_weight) - log_sum(last.log_base)
    learned = float(weights @ last.judged.log_likelihood - evidence)
    index = evenly(weights)
    return Fit(
        last.judged.draws.picked(index),
        last.judged.followed.state.picked(index),
        effective(weights),
        max(0.0, learned),
        sampled.place,
        alone.foretold,
        None,
    )


def _reweighed(case: Case, sampled: Sample[_Judged], fellow: Place) -> Sample[_Judged]:
    """Return the sample weighed by what the fellow teaches; drawn anew where too few of its draws agree."""
    judged = replace(sampled.judged, taught=_taught(sampled.scores, fellow))
    again = replace(sampled, judged=judged)
    if effective(weights_of(again.log_weight)) >= NEEDED_EFFECTIVE:
        return again
    return _sampled(case, fellow=fellow)


def _taught(scores: Array, fellow: Place) -> Array:
    """Return the log of how much likelier each score vector is, once the fellow eye is known so far.

    Each score of the two eyes is bivariate normal with correlation ``ALIKE``.
    """
    alike = table.ALIKE
    apart = np.diag(np.full(len(scores), 1.0 - alike**2))
    expected = Place(alike * fellow.mean, apart + alike**2 * fellow.covariance)
    taught: Array = log_normal(scores, expected) + 0.5 * (scores**2).sum(axis=0)
    return taught
