"""The model itself, for given increments of deviation and drift: no filter, no approximation. In JAX."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from likelihood import (
    AS_WIDE,
    SETTLED_REST_H,
    SETTLED_WORN_H,
    Parameters,
    State,
    Values,
    acuity,
    begin,
    cut,
    day_for_ever,
    decays,
    log_student,
    noise,
    parameters_at,
    residual_of,
    worn,
)

from companion.fade import parameters as table
from companion.fade.fit import Case


class Latent(NamedTuple):
    """Standard normal increments: of the deviation over each leg with the lens in; of the drift up to each reading
    and from the last one to the end; where both began."""

    d: Values
    b: Values
    start: Values


def latent_shape(case: Case) -> dict[str, tuple[int, ...]]:
    legs = cut(case)
    return {"d": (int(legs.inside.sum()),), "b": (int(legs.present.sum()) + 1,), "start": (2,)}


def path(case: Case) -> Callable[[Values, Latent], tuple[Values, Parameters, State]]:
    """Return what gives, at scores and increments: the log likelihood, the parameters, and the state at the end,
    which along a path is known: its covariance is nothing."""
    legs = cut(case)
    assert not len(legs.chances), "unknown nights are not for this likelihood"
    ends = np.cumsum(legs.hours)
    spans = np.diff(np.concatenate(([0.0], ends[legs.present], [case.until_h])))
    d_row = np.where(legs.inside, np.cumsum(legs.inside) - 1, 0)
    b_row = np.cumsum(legs.present) - 1
    value, spread, grows, nearness, is_refraction = (
        jnp.asarray(each[legs.present])
        for each in (legs.value, legs.spread, legs.grows, legs.nearness, legs.is_refraction)
    )

    def at(scores: Values, latent: Latent) -> tuple[Values, Parameters, State]:
        p = parameters_at(case, scores)
        most = sum(day_for_ever(p, SETTLED_WORN_H, SETTLED_REST_H))
        first = begin(case, p)
        each_leg = decays(p, jnp.asarray(legs.hours))
        kicks = jnp.where(legs.inside, jnp.sqrt(-jnp.expm1(2 * jnp.log(each_leg.e))) * latent.d[d_row], 0.0)

        def step(x: tuple[Values, Values, Values], leg: Any) -> tuple[Any, Any]:
            fresh, settled, d = x
            now, lens_in, kick = leg
            worn_fresh, worn_settled = worn(now, fresh, settled)
            x = (
                jnp.where(lens_in, worn_fresh, now.f * fresh),
                jnp.where(lens_in, worn_settled, now.s * settled),
                jnp.where(lens_in, now.e * d + p.night_d * kick, now.s * d),
            )
            return x, x

        start = (first.fresh, first.settled, jnp.sqrt(first.dd) * latent.start[0])
        last, (fresh, settled, d) = jax.lax.scan(step, start, (each_leg, jnp.asarray(legs.inside), kicks))

        def drift(b: Values, move: Any) -> tuple[Values, Values]:
            keeps, kick = move
            b = keeps * b + jnp.sqrt(1 - keeps**2) * table.DRIFT_D * kick
            return b, b

        keeps = jnp.exp(-jnp.asarray(spans) / table.DRIFT_H)
        b_last, b = jax.lax.scan(drift, jnp.sqrt(first.bb) * latent.start[1], (keeps, latent.b))
        residual = (residual_of(case, p, most, fresh, settled) + d)[legs.present] + b[b_row[legs.present]]
        truth = jnp.where(is_refraction, residual, acuity(case, p, residual, nearness))
        scale = jnp.where(is_refraction, AS_WIDE * spread, noise(case, residual, nearness, spread, grows))
        zero = jnp.zeros(())
        end = State(last[0], last[1], last[2], b_last, zero, zero, zero)
        return log_student(value - truth, scale).sum(), p, end

    return at
