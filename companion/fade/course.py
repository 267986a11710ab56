"""The effect along a history of wear: irregular nights, naps, nights of which nobody knows. Times are hours from
an origin of the caller's choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from companion.fade.parameters import Array
from companion.fade.stores import Rates, Step, Stores, either, nothing_yet, rest, settled_morning, wear

MOST_SHARE = 1.1
"""Even endless wear does not go further past the settled morning (INF, 10 h a night give 1.05)."""


@dataclass(frozen=True)
class Stretch:
    """Wear from ``start_h`` to ``end_h``. ``worn`` (n,) says in which draws; None: in all."""

    start_h: float
    end_h: float
    worn: Array | None = None


class _Steps:
    """The maps of this course, each worked out once: most nights are as long as the last."""

    def __init__(self, rates: Rates) -> None:
        self._rates = rates
        self._wear: dict[float, Step] = {}
        self._rest: dict[float, Step] = {}

    def rest(self, hours: float) -> Step:
        if hours not in self._rest:
            self._rest[hours] = rest(self._rates, hours)
        return self._rest[hours]

    def worn(self, hours: float, worn: Array | None) -> Step:
        if hours not in self._wear:
            self._wear[hours] = wear(self._rates, hours)
        step = self._wear[hours]
        return step if worn is None else either(worn, step, self.rest(hours))


def shares(
    rates: Rates, start_h: float, start: Stores, stretches: Sequence[Stretch], times_h: Sequence[float]
) -> Array:
    """Return the effect share at each time, (n_times, n), from ``start`` at ``start_h`` on.

    ``stretches`` are in order and do not overlap. Before ``start_h`` the share is that of ``start``.
    """
    steps = _Steps(rates)
    total = np.empty((len(times_h), rates.count))
    order = sorted(range(len(times_h)), key=times_h.__getitem__)
    waiting = 0
    now_h, state = start_h, start

    def note_until(end_h: float, worn: Array | None, lens_in: bool) -> None:
        nonlocal waiting
        while waiting < len(order) and times_h[order[waiting]] < end_h:
            hours = max(0.0, times_h[order[waiting]] - now_h)
            step = steps.worn(hours, worn) if lens_in else steps.rest(hours)
            total[order[waiting]] = step(state).total
            waiting += 1

    for stretch in stretches:
        if stretch.end_h <= now_h:
            continue
        begin_h = max(stretch.start_h, now_h)
        if begin_h > now_h:
            note_until(begin_h, None, lens_in=False)
            now_h, state = begin_h, steps.rest(begin_h - now_h)(state)
        note_until(stretch.end_h, stretch.worn, lens_in=True)
        now_h, state = stretch.end_h, steps.worn(stretch.end_h - now_h, stretch.worn)(state)
    note_until(np.inf, None, lens_in=False)
    share: Array = np.clip(total / settled_morning(rates), 0.0, MOST_SHARE)
    return share


def settled_evening(rates: Rates, hours_worn: float, nights_per_week: float, chance: Array) -> Stores:
    """Return the state of a wearer settled on a habit, just before the lens goes in on a night that is worn.

    ``chance`` (8, n), uniform: which nights of the week are worn is not known, so each draw takes its own seven
    nights; a fractional habit takes the lower or the higher whole number of nights, in its proportion.
    """
    if nights_per_week <= 0:
        return nothing_yet(rates)
    whole = np.floor(nights_per_week)
    nights = whole + (chance[7] < nights_per_week - whole)
    order = chance[:7].copy()
    order[0] = -1.0
    worn = order.argsort(axis=0, kind="stable").argsort(axis=0, kind="stable") < nights
    night, day, off = wear(rates, hours_worn), rest(rates, 24 - hours_worn), rest(rates, hours_worn)
    week = either(worn[0], night, off).then(day)
    for one in worn[1:]:
        week = week.then(either(one, night, off)).then(day)
    return week.fixed_point()
