"""One eye followed through its nights and readings, in each draw of its parameters.

On top of the effect of wear (``stores``) the eye strays: by a deviation of the night, which the lens renews while
it is in and which then fades with the settled effect, and by a slow drift. Both are normal, followed by a Kalman
filter with sigma points for the bend of acuity. A reading is Student-t about what is expected: the filter's update
is weighted by how far off it is. A night of which nobody knows splits each draw in two; the next reading weighs
the branches, and the draw goes on along one of them, taken by its weight: weighted draws stay exact.

    lens in   d(night)  = -night/a dt + sqrt(2/a) * night_spread_d dW
    lens out  d(night)  = -night/s dt
    always    d(drift)  = -drift/DRIFT_H dt + sqrt(2/DRIFT_H) * DRIFT_D dW
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from companion.fade.course import MOST_SHARE, Leg, Stretch, Terms, legs
from companion.fade.observation import Expected, Reading, expected, log_density, measured, trust
from companion.fade.parameters import DRIFT_D, DRIFT_H, Array
from companion.fade.population import Draws, Indices
from companion.fade.stores import Stores, rest_terms, settled_morning

MOST_BRANCHES = 8
"""So many ways through unknown nights are kept apart; beyond that the draw decides for one before it goes on."""
_NO_SPREAD_D = 1e-9
"""An eye before its first night is known exactly: a reading of it teaches nothing, and divides by nothing."""
FRESH, TOTAL, NIGHT, DRIFT, NIGHT_VAR, CROSS, DRIFT_VAR = range(7)
_PARTS = 7


@dataclass(frozen=True)
class State:
    """The eye at one moment: in each draw the two stores, and mean and covariance of night deviation and drift."""

    at_h: float
    values: Array
    """(7, n): fresh, fresh + settled, night [D], drift [D], their variances and covariance [D2]."""

    def picked(self, index: Indices) -> State:
        return State(self.at_h, self.values[:, index])


@dataclass(frozen=True)
class Followed:
    """What came of it. T times asked for, M readings."""

    log_likelihood: Array
    """(n,)"""
    state: State
    """At the end."""
    residual_d: Array
    spread_d: Array
    """Mean and spread of the residual at each time, by the readings before it: (T, n)."""
    foretold: list[Expected]
    """Each reading as expected from those before it."""
    log_steps: Array
    """(M, n): each reading's part of the log likelihood."""


def started(draws: Draws, at_h: float, stores: Stores, *, settled: bool) -> State:
    """Return the state of an eye as its record starts. A new one is at its baseline, just measured; a settled one
    strays already."""
    values = np.zeros((_PARTS, draws.count))
    values[FRESH], values[TOTAL] = stores.fresh, stores.total
    if settled:
        values[NIGHT_VAR], values[DRIFT_VAR] = draws.night_spread_d**2, DRIFT_D**2
    return State(at_h, values)


def follow(
    draws: Draws,
    start: State,
    stretches: Sequence[Stretch],
    readings: Sequence[Reading] = (),
    times_h: Sequence[float] = (),
    until_h: float | None = None,
) -> Followed:
    """Follow the eye from ``start`` to ``until_h`` (the last time or reading, if later).

    ``stretches`` and ``readings`` are in order; of the first what lies before the start does not count, of the
    second nothing may.
    """
    end_h = max((start.at_h, *(one.at_h for one in readings), *times_h, *(() if until_h is None else (until_h,))))
    quiet_h = max((start.at_h, *(one.at_h for one in readings), *(min(one.end_h, end_h) for one in stretches)))
    walk = _Walk(draws, start)
    busy = sorted({time for time in times_h if time <= quiet_h})
    pieces = list(legs(start.at_h, quiet_h, stretches, [*(one.at_h for one in readings), *busy]))
    terms = Terms(draws.rates, pieces)
    rows: dict[float, tuple[Array, Array]] = {}
    waiting_readings, waiting_times = list(readings), busy

    def stop_at(now_h: float) -> None:
        while waiting_readings and waiting_readings[0].at_h <= now_h:
            walk.read(waiting_readings.pop(0), now_h)
        if waiting_times and waiting_times[0] <= now_h:
            rows[waiting_times.pop(0)] = walk.residual(now_h)

    stop_at(start.at_h)
    for leg in pieces:
        walk.go(leg, terms)
        stop_at(leg.end_h)
    walk.decide()
    quiet = [time for time in times_h if time > quiet_h]
    if quiet:
        rows.update(zip(quiet, zip(*walk.coast(quiet_h, np.array(quiet)), strict=True), strict=True))
    walk.rest_until(quiet_h, end_h)
    empty = np.empty((0, draws.count))
    return Followed(
        walk.log_likelihood,
        State(end_h, walk.x[:, 0]),
        np.stack([rows[time][0] for time in times_h]) if times_h else empty,
        np.stack([rows[time][1] for time in times_h]) if times_h else empty,
        walk.foretold,
        np.array(walk.log_steps) if walk.log_steps else empty,
    )


class _Walk:
    """The filter on its way: ``x`` (7, branches, n), the log weight of each branch within its draw."""

    def __init__(self, draws: Draws, start: State) -> None:
        self.draws = draws
        self.x = start.values[:, None, :].copy()
        self.log_weight = np.zeros((1, draws.count))
        self.log_likelihood = np.zeros(draws.count)
        self.log_steps: list[Array] = []
        self.foretold: list[Expected] = []
        self._in: Array | None = None
        """Which branches wear the lens in the stretch under way; None: there is no doubt."""
        self._stretch: Stretch | None = None
        self._key = 0
        self._settled = settled_morning(draws.rates)
        self._night_var = draws.night_spread_d**2
        self._drifted_h = start.at_h

    # -- time --------------------------------------------------------------------------------------------------
    def go(self, leg: Leg, terms: Terms) -> None:
        if leg.stretch is not self._stretch:
            self._stretch, self._in = leg.stretch, None
            if leg.stretch is not None and leg.stretch.chance < 1.0:
                self._split(leg.stretch)
        if leg.stretch is None:
            self._rest(self.x, terms, leg.hours)
        elif self._in is None:
            self._wear(self.x, terms, leg.hours)
        else:
            rested = self.x.copy()
            self._rest(rested, terms, leg.hours)
            self._wear(self.x, terms, leg.hours)
            self.x = np.where(self._in, self.x, rested)

    def _rest(self, x: Array, terms: Terms, hours: float) -> None:
        f, s = terms.rest(hours)
        settled = (x[TOTAL] - x[FRESH]) * s
        x[FRESH] *= f
        np.add(x[FRESH], settled, out=x[TOTAL])
        x[NIGHT] *= s
        x[CROSS] *= s
        x[NIGHT_VAR] *= s * s

    def _wear(self, x: Array, terms: Terms, hours: float) -> None:
        e, q, h = terms.wear(hours)
        lacking = 1.0 - x[TOTAL]
        x[FRESH] = q * x[FRESH] + h * lacking
        np.subtract(1.0, e * lacking, out=x[TOTAL])
        x[NIGHT] *= e
        x[CROSS] *= e
        x[NIGHT_VAR] = self._night_var + (x[NIGHT_VAR] - self._night_var) * (e * e)

    def rest_until(self, now_h: float, end_h: float) -> None:
        leg = Leg(now_h, end_h, None)
        self._rest(self.x, Terms(self.draws.rates, [leg]), leg.hours)
        self.drift_until(end_h)

    def coast(self, now_h: float, times_h: Array) -> tuple[Array, Array]:
        """Return mean and spread of the residual at later times, (T, n), if no lens goes in: all times at once."""
        self.drift_until(now_h)
        x, hours = self.x[:, 0], (times_h - now_h)[:, None]
        f, s = rest_terms(self.draws.rates, hours)
        keeps = np.exp(-hours / DRIFT_H)
        share = np.minimum((x[FRESH] * f + (x[TOTAL] - x[FRESH]) * s) / self._settled, MOST_SHARE)
        strayed = x[NIGHT] * s + x[DRIFT] * keeps
        variance = (x[NIGHT_VAR] * s + 2.0 * x[CROSS] * keeps) * s
        variance += DRIFT_D**2 + (x[DRIFT_VAR] - DRIFT_D**2) * keeps**2
        return self.draws.residual_d(share) + strayed, np.sqrt(np.maximum(variance, 0.0))

    def drift_until(self, now_h: float) -> None:
        keeps = np.exp(-(now_h - self._drifted_h) / DRIFT_H)
        self._drifted_h = now_h
        self.x[DRIFT] *= keeps
        self.x[CROSS] *= keeps
        self.x[DRIFT_VAR] = DRIFT_D**2 + (self.x[DRIFT_VAR] - DRIFT_D**2) * (keeps * keeps)

    # -- nights of which nobody knows --------------------------------------------------------------------------
    def _split(self, stretch: Stretch) -> None:
        if 2 * self.x.shape[1] > MOST_BRANCHES:
            self.decide()
        self._key = stretch.key
        count = self.x.shape[1]
        self.x = np.concatenate((self.x, self.x), axis=1)
        worn, off = np.log(stretch.chance), np.log1p(-stretch.chance)
        self.log_weight = np.concatenate((self.log_weight + worn, self.log_weight + off))
        self._in = np.repeat((True, False), count)[:, None]

    def decide(self) -> None:
        """Let each draw go on along one of its branches, taken by its weight."""
        if self.x.shape[1] == 1:
            return
        pick = self._pick()
        self.x = np.take_along_axis(self.x, pick[None], axis=1)
        if self._in is not None:
            self._in = np.take_along_axis(np.broadcast_to(self._in, self.log_weight.shape), pick, axis=0)
        self.log_weight = np.zeros((1, self.draws.count))

    def _pick(self) -> Indices:
        weight = np.exp(self.log_weight - self.log_weight.max(axis=0))
        steps = np.cumsum(weight, axis=0)
        chance = self.draws.chances(self._key)[0] * steps[-1]
        index: Indices = np.minimum((steps <= chance).sum(axis=0), len(steps) - 1)[None]
        return index

    # -- readings ----------------------------------------------------------------------------------------------
    def residual(self, now_h: float) -> tuple[Array, Array]:
        """Return mean and spread of the residual now, along the branch that each draw would take."""
        residual, spread = self._residual(now_h)
        if residual.shape[0] == 1:
            return residual[0], spread[0]
        pick = self._pick()
        return np.take_along_axis(residual, pick, axis=0)[0], np.take_along_axis(spread, pick, axis=0)[0]

    def _residual(self, now_h: float) -> tuple[Array, Array]:
        self.drift_until(now_h)
        x = self.x
        share = np.minimum(x[TOTAL] / self._settled, MOST_SHARE)
        variance = x[NIGHT_VAR] + 2.0 * x[CROSS] + x[DRIFT_VAR]
        return self.draws.residual_d(share) + x[NIGHT] + x[DRIFT], np.sqrt(np.maximum(variance, 0.0))

    def read(self, reading: Reading, now_h: float) -> None:
        residual, spread = self._residual(now_h)
        what = expected(self.draws, reading, residual, spread)
        log_weight = self.log_weight + log_density(reading, what)
        before = self._pick() if len(log_weight) > 1 else None
        most = log_weight.max(axis=0)
        step = most + np.log(np.exp(log_weight - most).sum(axis=0))
        self.log_steps.append(step)
        self.log_likelihood += step
        self.log_weight = log_weight
        self.foretold.append(what.first() if before is None else what.along(before).first())
        if before is not None:
            after = self._pick()
            what = what.along(after)
            spread = np.take_along_axis(spread, after, 0)
            self.decide()
        self.log_weight = np.zeros((1, self.draws.count))
        self._learn(reading, what, spread)

    def _learn(self, reading: Reading, what: Expected, spread: Array) -> None:
        x, spread = self.x, np.maximum(spread, _NO_SPREAD_D)
        with_night, with_drift = x[NIGHT_VAR] + x[CROSS], x[CROSS] + x[DRIFT_VAR]
        # A part's covariance with the reading = its covariance with the residual * slope / the residual's spread.
        per_d = what.slope / spread / what.spread**2 * trust(reading, what)
        off = measured(reading) - what.value
        x[NIGHT] += with_night * per_d * off
        x[DRIFT] += with_drift * per_d * off
        less = per_d * what.slope / spread
        x[NIGHT_VAR] -= with_night * with_night * less
        x[CROSS] -= with_night * with_drift * less
        x[DRIFT_VAR] -= with_drift * with_drift * less
