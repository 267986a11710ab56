"""The model of ``companion.fade`` written a second time, in JAX, from its equations: only its numbers are shared.

``filtered`` is the fit's own likelihood: deviation and drift followed by a sigma-point Kalman filter, readings
Student-t, every pattern of unknown nights written out. ``paths.py`` has the model itself, without a filter.

    F fresh, S consolidated, u = 1 - F - S; a build, c settle, f and s the two fades; e = exp(-t/a), q = exp(-t/c)
    lens in    u <- e u             F <- q F + h u      h = (1/a) integral_0^t exp(-x/a - (t-x)/c) dx
    lens out   F <- F exp(-t/f)     S <- S exp(-t/s)
    residual   R = baseline + (aim - baseline) gain min((F + S) / settled morning, 1.1) + d + b
    deviation  d, spread ``night_spread_d``, renewed at 1/a while the lens is in, fading with s while out
    drift      b, spread DRIFT_D, memory DRIFT_H
    acuity     best + form/2 log10(1 + (k E)^2), loss_at_1_d at E = 1 D
    blur       E: minus, or plus past half of 15 - age/4
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise, product
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from jax.scipy.special import logsumexp

from companion.fade import observation
from companion.fade import parameters as table
from companion.fade.fit import Case
from companion.fade.observation import RefractionReading

jax.config.update("jax_enable_x64", True)

AT_ONCE = 3
"""Unknown nights written out together: fewer steps to compile against fewer ways to follow."""
MOST_SHARE = 1.1
SETTLED_WORN_H, SETTLED_REST_H = 8.0, 16.0
Values = Any
"""An array of JAX."""


# -- an eye's parameters -----------------------------------------------------------------------------------------
class Parameters(NamedTuple):
    a: Values
    c: Values
    f: Values
    s: Values
    gain: Values
    night_d: Values
    best: Values
    loss: Values
    form: Values


def parameters_at(case: Case, scores: Values) -> Parameters:
    """Return the parameters of an eye at its scores, one for each free parameter of the table."""
    z = {one.name: scores[row] for row, one in enumerate(table.FREE)}
    size = case.treatment.aim_d - case.treatment.baseline_d
    older = case.treatment.age_years > table.OLDER_YEARS
    wider = table.WIDER if older or abs(size) > table.LARGE_TREATMENT_D else 1.0
    if size < 0:
        wider = wider * table.STEEPENING_WIDER

    def value(one: table.Parameter, wider: float = 1.0, scale: float = 1.0) -> Values:
        score = z.get(one.name, 0.0)
        if one.law == "log":
            free = scale * one.median * one.spread ** (wider * score)
        else:
            free = scale * one.median + wider * one.spread * score
        return jnp.clip(free, one.low, one.high)

    known_size = min(max(abs(size), table.SIZE_RANGE_D[0]), table.SIZE_RANGE_D[1])
    fades = value(table.FADE_FACTOR, wider) * np.exp(
        table.SIZE_SLOPE_PER_D * (known_size - table.SIZE_REFERENCE_D)
    )
    best = value(table.BEST_ACUITY)
    if case.treatment.best_acuity_logmar is not None:
        best = case.treatment.best_acuity_logmar + table.MEASURED_BEST_SPREAD * z[table.BEST_ACUITY.name]
    return Parameters(
        a=value(table.BUILD_H, wider, table.OLDER_BUILD_SCALE if older else 1.0),
        c=value(table.SETTLE_H, wider),
        f=value(table.FRESH_FADE_H, wider) * fades,
        s=value(table.SETTLED_FADE_H) * fades,
        gain=value(table.GAIN, wider),
        night_d=value(table.NIGHT_SPREAD_D),
        best=best,
        loss=value(table.LOSS_AT_1_D),
        form=value(table.FORM),
    )


# -- the two stores ----------------------------------------------------------------------------------------------
class Decays(NamedTuple):
    """What so many hours do: with the lens in e, q, h, without it f, s; the drift keeps ``keeps``."""

    e: Values
    q: Values
    h: Values
    f: Values
    s: Values
    keeps: Values


def decays(p: Parameters, hours: Values) -> Decays:
    q, x = jnp.exp(-hours / p.c), hours * (1 / p.a - 1 / p.c)
    near = jnp.abs(x) < 1e-7
    shape = jnp.where(near, 1.0, -jnp.expm1(-x) / jnp.where(near, 1.0, x))
    return Decays(
        jnp.exp(-hours / p.a),
        q,
        hours / p.a * q * shape,
        jnp.exp(-hours / p.f),
        jnp.exp(-hours / p.s),
        jnp.exp(-hours / table.DRIFT_H),
    )


def worn(now: Decays, fresh: Values, settled: Values) -> tuple[Values, Values]:
    lacking = 1 - fresh - settled
    after = now.q * fresh + now.h * lacking
    return after, 1 - now.e * lacking - after


def day_for_ever(p: Parameters, worn_h: float, rest_h: float) -> tuple[Values, Values]:
    """Return the stores at the end of the wear of a day that has been repeated for ever."""
    night, day = decays(p, worn_h), decays(p, rest_h)
    # (F, S) before one night -> (F, S) before the next: columns and shift by what becomes of three states.
    at = [worn(night, *one) for one in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))]
    shift, first, second = (jnp.stack([day.f * fresh, day.s * settled]) for fresh, settled in at)
    matrix = jnp.stack([first - shift, second - shift], axis=1)
    before = jnp.linalg.solve(jnp.eye(2) - matrix, shift)
    return worn(night, before[0], before[1])


# -- sight -------------------------------------------------------------------------------------------------------
def blur(case: Case, residual: Values, nearness: Values) -> Values:
    seen = residual + nearness
    usable = 0.5 * max(0.0, 15 - case.treatment.age_years / 4)
    return jnp.maximum(jnp.maximum(-seen, seen - usable), 0.0)


def acuity(case: Case, p: Parameters, residual: Values, nearness: Values = 0.0) -> Values:
    bend = 10 ** (2 * p.loss / p.form) - 1
    return p.best + p.form / 2 * jnp.log10(1 + bend * blur(case, residual, nearness) ** 2)


def noise(case: Case, residual: Values, nearness: Values, spread: Values, grows: Values) -> Values:
    grown = jnp.minimum(blur(case, residual, nearness), observation.NOISE_UP_TO_D)
    return AS_WIDE * spread * (1 + observation.NOISE_PER_D * grown) ** grows


AS_WIDE = 0.88
"""A Student-t of 4 degrees of freedom and so much of a normal's spread holds 68 % of it in its middle."""


def log_student(off: Values, scale: Values) -> Values:
    v = observation.FREEDOM
    constant = (
        jax.scipy.special.gammaln((v + 1) / 2) - jax.scipy.special.gammaln(v / 2) - 0.5 * jnp.log(v * jnp.pi)
    )
    return constant - jnp.log(scale) - (v + 1) / 2 * jnp.log1p((off / scale) ** 2 / v)


# -- a record cut into legs --------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Cut:
    """A record between moments at which something happens: the lens goes in or out, or a reading is taken.

    inside: 1 with the lens in, 0 without; which: number of the unknown night, -1 if known. The reading at a leg's
    end: present, refraction or not, value, spread, by which power that grows with blur, nearness [D].
    """

    hours: np.ndarray
    inside: np.ndarray
    which: np.ndarray
    present: np.ndarray
    is_refraction: np.ndarray
    value: np.ndarray
    spread: np.ndarray
    grows: np.ndarray
    nearness: np.ndarray
    chances: np.ndarray
    """Of each unknown night, that it was worn."""


def cut(case: Case) -> Cut:
    nights, readings = list(case.stretches), {one.at_h: one for one in case.readings}
    assert len(readings) == len(case.readings) and all(0 < at <= case.until_h for at in readings)
    marks = {0.0, case.until_h, *readings, *(at for one in nights for at in (one.start_h, one.end_h))}
    marks = sorted(at for at in marks if 0 <= at <= case.until_h)
    unknown = [one for one in nights if one.chance < 1]
    usual = observation.CHILD_SPREAD if case.treatment.age_years < observation.CHILD_BEFORE_AGE else None
    usual = usual or observation.ADULT_SPREAD
    assert not any(getattr(one, "at_ceiling", False) for one in case.readings), "not written here"
    rows = []
    for begin, end in pairwise(marks):
        night = next((one for one in nights if one.start_h <= begin and end <= one.end_h), None)
        one = readings.get(end)
        is_refraction = isinstance(one, RefractionReading)
        value = 0.0 if one is None else one.sphere_d if isinstance(one, RefractionReading) else one.logmar
        stated, distance = getattr(one, "spread", None), getattr(one, "distance_m", None)
        spread = usual if stated is None else max(stated, observation.LEAST_SPREAD)
        rows.append(
            (
                end - begin,
                night is not None,
                unknown.index(night) if night in unknown else -1,
                one is not None,
                is_refraction,
                value,
                observation.REFRACTION_SPREAD_D if is_refraction else spread,
                1.0 if stated is None else 0.5,
                1 / distance if distance else 0.0,
            )
        )
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    return Cut(*columns, np.array([one.chance for one in unknown]))


def branches(one: Cut) -> list[tuple[slice, np.ndarray, np.ndarray]]:
    """Return the legs in stretches: the first of all that is known, each other one from an unknown night on.

    A stretch goes up to the next ``AT_ONCE`` unknown nights and splits each way so far in as many as these have
    patterns. Of each: which legs, is the lens in (legs, ways), the log chance of each pattern.
    """
    firsts = range(0, len(one.chances), AT_ONCE)
    marks = [*(int(np.argmax(one.which == number)) for number in firsts), len(one.hours)]
    known = slice(0, marks[0])
    stretches, ways = [(known, one.inside[known, None], np.zeros(1))], 1
    for first, (start, end) in zip(firsts, pairwise(marks), strict=True):
        chances = one.chances[first : first + AT_ONCE]
        patterns = np.array(list(product((True, False), repeat=len(chances))))
        number = one.which[start:end] - first
        lens_in = np.where(number[:, None] >= 0, patterns.T[np.maximum(number, 0)], one.inside[start:end, None])
        log_chance = np.where(patterns, np.log(chances), np.log1p(-chances)).sum(axis=1)
        stretches.append((slice(start, end), np.repeat(lens_in, ways, axis=1), log_chance))
        ways *= len(patterns)
    return stretches


# -- the fit's likelihood ----------------------------------------------------------------------------------------
class State(NamedTuple):
    """Stores, mean and covariance of deviation and drift."""

    fresh: Values
    settled: Values
    d: Values
    b: Values
    dd: Values
    db: Values
    bb: Values


def begin(case: Case, p: Parameters) -> State:
    """Return the eye as its record starts: untreated, or settled on a habit of every night and astray already."""
    start: Any = case.start
    if start.nights_per_week is None:
        return State(*(jnp.zeros(()) for _ in range(7)))
    day = decays(p, 24 - start.hours)
    fresh, settled = day_for_ever(p, start.hours, 24 - start.hours)
    zero = jnp.zeros(())
    return State(fresh * day.f, settled * day.s, zero, zero, p.night_d**2, zero, zero + table.DRIFT_D**2)


def residual_of(case: Case, p: Parameters, most: Values, fresh: Values, settled: Values) -> Values:
    share = jnp.minimum((fresh + settled) / most, MOST_SHARE)
    return case.treatment.baseline_d + (case.treatment.aim_d - case.treatment.baseline_d) * p.gain * share


def moved(p: Parameters, now: Decays, lens_in: Values, x: State) -> State:
    fresh, settled = worn(now, x.fresh, x.settled)
    left = jnp.where(lens_in, now.e, now.s)
    return State(
        jnp.where(lens_in, fresh, now.f * x.fresh),
        jnp.where(lens_in, settled, now.s * x.settled),
        left * x.d,
        now.keeps * x.b,
        left**2 * x.dd + jnp.where(lens_in, (1 - now.e**2) * p.night_d**2, 0.0),
        left * now.keeps * x.db,
        now.keeps**2 * x.bb + (1 - now.keeps**2) * table.DRIFT_D**2,
    )


def filtered(case: Case) -> Callable[[Values], tuple[Values, Values, Parameters, State]]:
    """Return what gives, at scores: the log likelihood, and for each pattern of the unknown nights its log weight
    after the readings (2^k,), the parameters and the state at the end (2^k,)."""
    legs = cut(case)
    branching = branches(legs)
    readings = tuple(
        jnp.asarray(each)
        for each in (legs.present, legs.is_refraction, legs.value, legs.spread, legs.grows, legs.nearness)
    )

    def at(scores: Values) -> tuple[Values, Values, Parameters, State]:
        p = parameters_at(case, scores)
        most = sum(day_for_ever(p, SETTLED_WORN_H, SETTLED_REST_H))
        each_leg = decays(p, jnp.asarray(legs.hours))

        def step(x: State, leg: Any) -> tuple[State, Values]:
            now, lens_in, (present, is_refraction, value, spread, grows, nearness) = leg
            x = moved(p, now, lens_in, x)
            residual = residual_of(case, p, most, x.fresh, x.settled) + x.d + x.b
            variance = jnp.where(present, x.dd + 2 * x.db + x.bb, 1.0)
            apart = jnp.sqrt(3 * variance)
            low, here, high = (
                jnp.where(is_refraction, at, acuity(case, p, at, nearness))
                for at in (residual - apart, residual, residual + apart)
            )
            centre = (low + 4 * here + high) / 6
            own = ((low - centre) ** 2 + 4 * (here - centre) ** 2 + (high - centre) ** 2) / 6
            with_residual = (high - low) * apart / 6
            noisy = jnp.where(is_refraction, AS_WIDE * spread, noise(case, residual, nearness, spread, grows))
            total, off = own + noisy**2, value - centre
            v = observation.FREEDOM
            heard = jnp.where(present, jnp.minimum(1.0, (v + 1) / (v + off**2 / total)), 0.0)
            # Covariance of deviation and of drift with the reading: theirs with the residual, times its slope.
            slope = with_residual / variance
            c_d, c_b = (x.dd + x.db) * slope, (x.db + x.bb) * slope
            x = State(
                x.fresh,
                x.settled,
                x.d + heard * c_d / total * off,
                x.b + heard * c_b / total * off,
                x.dd - heard * c_d * c_d / total,
                x.db - heard * c_d * c_b / total,
                x.bb - heard * c_b * c_b / total,
            )
            return x, jnp.where(present, log_student(off, jnp.sqrt(total)), 0.0)

        x = State(*(part[None] for part in begin(case, p)))
        log_weight = jnp.zeros(1)
        for span, lens_in, log_chance in branching:
            x = State(*(jnp.tile(part, len(log_chance)) for part in x))
            log_weight = (log_chance[:, None] + log_weight).ravel()
            these = jax.tree.map(lambda one, span=span: one[span], (each_leg, readings))
            x, found = jax.lax.scan(step, x, (these[0], lens_in, these[1]))
            log_weight = log_weight + found.sum(axis=0)
        likelihood = logsumexp(log_weight)
        return likelihood, log_weight - likelihood, p, x

    return at


def log_likelihoods(case: Case, scores: np.ndarray) -> np.ndarray:
    """Return the log likelihood at each column of ``scores`` (d, n)."""
    judged = filtered(case)
    return np.asarray(jax.jit(jax.vmap(lambda one: judged(one)[0]))(jnp.asarray(scores.T)))


def ahead(case: Case, p: Parameters, x: State, hours: Values) -> tuple[Values, Values]:
    """Return mean and spread [D] of the residual after so many hours without a lens."""
    most = sum(day_for_ever(p, SETTLED_WORN_H, SETTLED_REST_H))
    x = moved(p, decays(p, hours), False, x)
    return residual_of(case, p, most, x.fresh, x.settled) + x.d + x.b, jnp.sqrt(x.dd + 2 * x.db + x.bb)
