"""The first weeks and the way back: what new wearers see night by night, and when an eye is as it was before.

Ranges are over wearers: over the draws, so that of the population for somebody new, of one person after a fit. An
expectation, never a promise, and no measure of whether a lens does what it should: that is the practice's to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from companion.fade.band import band
from companion.fade.course import Stretch
from companion.fade.filter import FRESH, TOTAL, State, follow, started
from companion.fade.outlook import Outlook, Range, Target, outlooks, ranges
from companion.fade.parameters import Array
from companion.fade.population import Draws
from companion.fade.stores import nothing_yet, settled_morning

FIRST_MONTH = (1, 2, 3, 4, 5, 6, 7, 30)
"""After the first night, through the first week, at a month."""
BACK_WITHIN_D = 0.25
"""So close to its refraction before treatment an eye counts as back: the step of a trial lens."""
DAYS_OFF = (1, 2, 3, 7, 14, 30)
_DAY_H = 24.0
_HALVINGS = 40


@dataclass(frozen=True)
class OnsetDay:
    """The day after the ``night``-th night in a row: just after the lens is out, and in the evening."""

    night: int
    morning: Outlook
    evening: Outlook


@dataclass(frozen=True)
class DayOff:
    """So many days after the lens came out for the last time."""

    day: int
    sight: Outlook


@dataclass(frozen=True)
class Reversal:
    """``days``: until the refraction is within 0.25 D of that before treatment, single days' straying left out.
    A lasting 0.1 to 0.3 D after years of wear (J Ophthalmol 2018;7106028) is not in it."""

    days: Range
    course: tuple[DayOff, ...]


def onset(
    draws: Draws, target: Target, hours_worn: float, evening_after_h: float, nights: Sequence[int] = FIRST_MONTH
) -> tuple[OnsetDay, ...]:
    """Return what to expect of an untreated eye that is treated every night for ``hours_worn``; evening is
    ``evening_after_h`` after the lens is out."""
    begins = [_DAY_H * place for place in range(max(nights))]
    mornings = [_DAY_H * (night - 1) + hours_worn for night in nights]
    times = [*mornings, *(morning + evening_after_h for morning in mornings)]
    start = started(draws, 0.0, nothing_yet(draws.rates), settled=False)
    found = follow(draws, start, [Stretch(begin, begin + hours_worn) for begin in begins], (), times)
    seen = outlooks(draws, found.residual_d, found.spread_d, target)
    pairs = zip(nights, seen[: len(mornings)], seen[len(mornings) :], strict=True)
    return tuple(OnsetDay(*one) for one in pairs)


def reversal(draws: Draws, state: State, target: Target, days: Sequence[int] = DAYS_OFF) -> Reversal:
    """Return what to expect once the lens is no longer worn, from ``state`` on."""
    times = [state.at_h + _DAY_H * day for day in days]
    found = follow(draws, state, (), (), times)
    seen = outlooks(draws, found.residual_d, found.spread_d, target)
    (until_back,) = ranges(band(days_until_back(draws, state)[None]))
    return Reversal(until_back, tuple(DayOff(*one) for one in zip(days, seen, strict=True)))


def days_until_back(draws: Draws, state: State, within_d: float = BACK_WITHIN_D) -> Array:
    """Return the days until each draw's mean residual is within so much of the baseline, (n,); 0: it is now."""
    fresh, settled = state.values[FRESH], state.values[TOTAL] - state.values[FRESH]
    per_effect_d = abs(draws.treatment.size_d) * draws.gain / settled_morning(draws.rates)
    rates = draws.rates
    slowest_h = np.maximum(rates.fresh_fade_h, rates.settled_fade_h)
    most = np.maximum(per_effect_d * (fresh + settled) / within_d, 1.0)
    low, high = np.zeros(draws.count), slowest_h * np.log(most)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        left_d = per_effect_d * (
            fresh * np.exp(-middle / rates.fresh_fade_h) + settled * np.exp(-middle / rates.settled_fade_h)
        )
        far = left_d > within_d
        low, high = np.where(far, middle, low), np.where(far, high, middle)
    days: Array = high / _DAY_H
    return days
