"""Simulated people: prescriptions, and what the two eyes of one person are like. Spreads from person to person.

Two eyes of one person are alike, not the same. Knows no diary and no record.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import exp

import numpy as np
from scipy.special import gammaincinv, ndtr
from simulated_eyes import FORMS, Array, Mechanism, OneStore, Shoulder, SideBySide, ThreeStages

KINDS = ("three stages", "shoulder", "side by side", "one store")
MIDDLE_OWN: Mapping[str, float] = {"one plus square": 1.05, "chart of 1945": 1.0, "pupil": 4.25, "threshold": 0.22}
"""What is a person's own in each form of sight (see ``Sight``), in the middle."""

ALIKE = 0.75
"""Correlation of the two eyes of a person."""
STEEPENING = 0.03
"""Share of wearers whose lens steepens."""


@dataclass(frozen=True)
class Person:
    """One wearer before any night: the prescription that the record states, and the truth behind it, by eye."""

    kind: str
    form: str
    age: int
    eyes: tuple[str, ...]
    baseline_d: Array
    aim_d: Array
    mechanisms: tuple[Mechanism, ...]
    true_baseline_d: Array
    treatment_d: Array
    best_logmar: Array
    own_sight: Array
    night_sd_d: Array
    drift_sd_d: float
    accommodation_d: float

    @property
    def steepens(self) -> bool:
        return bool(self.baseline_d[0] > 0)


class Dice:
    """Draws for the eyes of one person."""

    def __init__(self, rng: np.random.Generator, eyes: int) -> None:
        self.rng = rng
        self._eyes = eyes

    def scores(self, alike: float = ALIKE) -> Array:
        """Return a standard normal score for each eye."""
        own = self.rng.standard_normal(self._eyes)
        both: Array = np.sqrt(alike) * self.rng.standard_normal() + np.sqrt(1 - alike) * own
        return both

    def around(self, middle: float, factor: float, alike: float = ALIKE) -> Array:
        """Return log-normal values: ``factor`` is one standard deviation's."""
        return middle * factor ** self.scores(alike)

    def gamma(self, shape: float, alike: float = ALIKE) -> Array:
        """Return gamma values of mean 1 and spread 1/sqrt(shape), skewed upwards."""
        drawn: Array = gammaincinv(shape, ndtr(self.scores(alike))) / shape
        return drawn

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def one_of(self, *choices: float) -> float:
        return choices[int(self.rng.integers(len(choices)))]


# -- how the effect builds and fades ---------------------------------------------------------------------------
def _by_size(size_d: float, slope: float) -> float:
    """Larger treatments fade sooner: direction Eye Contact Lens 2004;30:247 (V), slope INF."""
    return exp(-slope * (min(abs(size_d), 6.0) - 3.5))


def three_stages(size_d: float, build: float = 1.0, fade: float = 1.0, passing: float = 1.0) -> ThreeStages:
    fade *= _by_size(size_d, 0.11)
    return ThreeStages(
        8.7 * build, (9.0 * passing, 30.0 * passing), (26.0 * fade, 55.0 * fade, 125.0 * min(fade, 1.3))
    )


def shoulder(size_d: float, build: float = 1.0, fade: float = 1.0, power: float = 1.25) -> Shoulder:
    return Shoulder(8.3 * build, 56.0 * fade * _by_size(size_d, 0.09), power, 0.10, 130.0)


def side_by_side(size_d: float, build: float = 1.0, fade: float = 1.0, share: float = 0.45) -> SideBySide:
    fade *= _by_size(size_d, 0.12)
    return SideBySide(share, (6.0 * build, 10.5 * build), (42.0 * fade, 105.0 * min(fade, 1.4)))


def one_store(size_d: float, build: float = 1.0, fade: float = 1.0) -> OneStore:
    return OneStore(8.0 * build, 72.0 * fade * _by_size(size_d, 0.12))


_MEDIAN: Mapping[str, Callable[[float], Mechanism]] = dict(
    zip(KINDS, (three_stages, shoulder, side_by_side, one_store), strict=True)
)


def median_mechanism(kind: str, size_d: float) -> Mechanism:
    return _MEDIAN[kind](size_d)


def _mechanisms(kind: str, dice: Dice, sizes_d: Array, slower: float) -> tuple[Mechanism, ...]:
    build = dice.around(slower, 1.30)
    if kind == "three stages":
        spread = (build, dice.around(1.0, 1.40), dice.around(1.0, 1.25))
        return tuple(three_stages(*one) for one in zip(sizes_d, *spread, strict=True))
    if kind == "shoulder":
        spread = (build, dice.around(1.0, 1.35), np.clip(1.25 + 0.08 * dice.scores(), 1.05, 1.5))
        return tuple(shoulder(*one) for one in zip(sizes_d, *spread, strict=True))
    if kind == "side by side":
        rate = 1.05 * dice.gamma(7.0) * (1.7 if dice.chance(0.08) else 1.0)  # the pace is skewed, some fade fast
        spread = (build, 1 / np.clip(rate, 0.3, 3.0), np.clip(0.45 + 0.12 * dice.scores(), 0.15, 0.8))
        return tuple(side_by_side(*one) for one in zip(sizes_d, *spread, strict=True))
    return tuple(one_store(*one) for one in zip(sizes_d, build, dice.around(1.0, 1.45), strict=True))


def _treatment_d(kind: str, dice: Dice, wanted_d: Array) -> Array:
    """Return how far a settled morning really goes: people were refitted until it was about right."""
    if kind == "three stages":
        return wanted_d * (0.96 + 0.12 * dice.scores(0.6))
    if kind == "shoulder":
        return wanted_d * dice.around(0.96, 1.13, 0.6)
    if kind == "side by side":  # skewed: some answer much less
        return wanted_d * (1.10 - 0.14 * dice.gamma(1.5, 0.6))
    return wanted_d + 0.35 * dice.scores(0.6) - 0.05 * np.sign(wanted_d)


# -- who they are ----------------------------------------------------------------------------------------------
def _age(dice: Dice) -> int:
    group = dice.rng.random()
    if group < 0.60:
        return int(dice.rng.integers(7, 16))
    return int(dice.rng.integers(16, 31) if group < 0.87 else dice.rng.integers(31, 46))


def _prescription(dice: Dice, steepens: bool) -> tuple[Array, Array]:
    """Return baseline and aim by eye [D], in quarters as practices write them."""
    if steepens:
        middle, low, high, aim = float(dice.rng.uniform(0.75, 2.5)), 0.5, 3.0, dice.one_of(0.0, -0.25, -0.5)
    else:
        most = dice.chance(0.85)
        middle = -float(dice.rng.uniform(1.0, 4.0) if most else dice.rng.uniform(0.75, 5.0))
        low, high, aim = -5.0, -0.75, dice.one_of(0.25, 0.5, 0.5, 0.5, 0.75)
    baseline = np.clip(np.round((middle + 0.35 * dice.scores(0.0)) * 4) / 4, low, high)
    return baseline, np.full(baseline.shape, aim)


def _own_sight(form: str, dice: Dice) -> Array:
    middle = MIDDLE_OWN[form]
    if form == "pupil":
        return np.clip(middle + 0.6 * dice.scores(0.9), 3.0, 5.5)
    if form == "threshold":
        return np.clip(middle + 0.08 * dice.scores(0.8), 0.05, 0.45)
    return dice.around(middle, 1.12, 0.8)


def meet(rng: np.random.Generator, number: int) -> Person:
    """Return one person; ``number`` deals out the kinds and the forms evenly."""
    kind = KINDS[number % len(KINDS)]
    form = FORMS[number // len(KINDS) % len(FORMS)]
    one_eye = rng.random() < 0.08
    eyes = (("right", "left")[int(rng.integers(2))],) if one_eye else ("right", "left")
    dice = Dice(rng, len(eyes))
    steepens = dice.chance(STEEPENING)
    age = int(rng.integers(28, 46)) if steepens else _age(dice)
    baseline, aim = _prescription(dice, steepens)
    wanted = aim - baseline
    return Person(
        kind=kind,
        form=form,
        age=age,
        eyes=eyes,
        baseline_d=baseline,
        aim_d=aim,
        # Older people build more slowly: Optom Vis Sci 2005;82:505, direction from memory.
        mechanisms=_mechanisms(kind, dice, wanted, 1.0 + 0.01 * max(0, age - 25)),
        true_baseline_d=baseline + 0.12 * dice.scores(0.2),
        treatment_d=_treatment_d(kind, dice, wanted),
        best_logmar=np.clip(0.0 + 0.05 * dice.scores(0.6), -0.10, 0.10),
        own_sight=_own_sight(form, dice),
        night_sd_d=np.clip(dice.around(0.11, 1.4, 0.9), 0.03, 0.30),
        drift_sd_d=float(rng.uniform(0.03, 0.18)),
        # Half of the mean amplitude 18.5 - 0.3 * age (handbook, from memory) can be held up.
        accommodation_d=0.5 * (18.5 - 0.3 * age),
    )
