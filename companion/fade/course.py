"""The effect along a history of wear: irregular nights, naps, one eye only. Times are hours from an origin of the
caller's choice.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from companion.fade.parameters import Array
from companion.fade.stores import (
    Rates,
    Stores,
    either,
    nothing_yet,
    rest,
    rest_terms,
    settled_morning,
    wear,
    wear_terms,
)

MOST_SHARE = 1.1
"""Even endless wear does not go further past the settled morning (INF, 10 h a night give 1.05)."""


@dataclass(frozen=True)
class Stretch:
    """Wear from ``start_h`` to ``end_h``; with a ``chance`` below 1 nobody knows whether it was worn.

    ``key`` numbers a stretch of which nobody knows: the dice that decide it in each draw go by it.
    """

    start_h: float
    end_h: float
    chance: float = 1.0
    key: int = 0


@dataclass(frozen=True)
class Leg:
    """A piece of time in which the lens is in throughout (``stretch``), or out throughout (None)."""

    start_h: float
    end_h: float
    stretch: Stretch | None

    @property
    def hours(self) -> float:
        return self.end_h - self.start_h


def legs(start_h: float, end_h: float, stretches: Sequence[Stretch], marks_h: Iterable[float]) -> Iterator[Leg]:
    """Cut the time from ``start_h`` to ``end_h`` where a lens goes in or out and at each mark.

    ``stretches`` are in order and do not overlap.
    """
    cuts = {start_h, end_h}
    for one in stretches:
        cuts.update((one.start_h, one.end_h))
    cuts.update(marks_h)
    ordered = sorted(cut for cut in cuts if start_h <= cut <= end_h)
    starts = [one.start_h for one in stretches]
    for begin, end in pairwise(ordered):
        at = bisect_right(starts, begin) - 1
        covers = at >= 0 and begin < stretches[at].end_h
        yield Leg(begin, end, stretches[at] if covers else None)


class Terms:
    """The decays of many legs worked out together, each length once: most nights are as long as the last."""

    def __init__(self, rates: Rates, pieces: Iterable[Leg]) -> None:
        worn, rested = set(), set()
        for leg in pieces:
            if leg.stretch is not None:
                worn.add(leg.hours)
            if leg.stretch is None or leg.stretch.chance < 1.0:
                rested.add(leg.hours)
        self._wear = _by_hours(worn, lambda column: wear_terms(rates, column))
        self._rest = _by_hours(rested, lambda column: rest_terms(rates, column))

    def wear(self, hours: float) -> tuple[Array, Array, Array]:
        e, q, h = self._wear[hours]
        return e, q, h

    def rest(self, hours: float) -> tuple[Array, Array]:
        f, s = self._rest[hours]
        return f, s


def _by_hours(hours: set[float], terms: Callable[[Array], tuple[Array, ...]]) -> dict[float, tuple[Array, ...]]:
    if not hours:
        return {}
    ordered = sorted(hours)
    return dict(zip(ordered, zip(*terms(np.array(ordered).reshape(-1, 1)), strict=True), strict=True))


def shares(
    rates: Rates, start_h: float, start: Stores, stretches: Sequence[Stretch], times_h: Sequence[float]
) -> Array:
    """Return the effect share at each time, (n_times, n), from ``start`` at ``start_h`` on, wear as it is known.

    Before ``start_h`` the share is that of ``start``.
    """
    fresh, total = start.fresh, start.total
    found = {start_h: total}
    for leg in legs(start_h, max((start_h, *times_h)), stretches, times_h):
        if leg.stretch is None:
            f, s = rest_terms(rates, leg.hours)
            settled = (total - fresh) * s
            fresh = fresh * f
            total = fresh + settled
        else:
            e, q, h = wear_terms(rates, leg.hours)
            lacking = 1.0 - total
            fresh, total = q * fresh + h * lacking, 1.0 - e * lacking
        found[leg.end_h] = total
    rows = np.stack([found[max(time, start_h)] for time in times_h])
    share: Array = np.clip(rows / settled_morning(rates), 0.0, MOST_SHARE)
    return share


def settled_evening(rates: Rates, hours_worn: float, nights_per_week: float, chance: Array) -> Stores:
    """Return the state of a wearer settled on a habit, just before the lens goes in on a night that is worn.

    ``chance`` (8, n), uniform: which nights of the week are worn is not known, so each draw takes its own seven
    nights; a fractional habit takes the lower or the higher whole number of nights, in its proportion.
    """
    if nights_per_week <= 0:
        return nothing_yet(rates)
    night, day, off = wear(rates, hours_worn), rest(rates, 24 - hours_worn), rest(rates, hours_worn)
    if nights_per_week >= 7:
        return night.then(day).fixed_point()
    whole = np.floor(nights_per_week)
    nights = whole + (chance[7] < nights_per_week - whole)
    order = chance[:7].copy()
    order[0] = -1.0
    worn = order.argsort(axis=0, kind="stable").argsort(axis=0, kind="stable") < nights
    week = either(worn[0], night, off).then(day)
    for one in worn[1:]:
        week = week.then(either(one, night, off)).then(day)
    return week.fixed_point()
