"""Long runs of a No-U-Turn sampler (NumPyro) on five records: what the personal fit is held against.

    .venv/bin/python tests/reference/nuts.py --all          runs everything, writes posterior.json and README.md
    .venv/bin/python tests/reference/nuts.py thin rich      runs these, prints, writes nothing
    .venv/bin/python tests/reference/nuts.py --difference   prints what the stored runs and the fit differ by

Run it again, whole, whenever a number of the model changes: the stored runs know which likelihood was theirs.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

os.environ.setdefault("XLA_FLAGS", "--xla_cpu_multi_thread_eigen=false")

import jax
import jax.numpy as jnp
import likelihood
import numpy as np
import numpyro
import numpyro.distributions as dist
import paths
from numpyro.diagnostics import effective_sample_size, split_gelman_rubin
from numpyro.infer import MCMC, NUTS, init_to_value
from posterior import (
    FILE,
    HOURS,
    NODE_WEIGHTS,
    NODES,
    PAGE,
    PATH_RECORDS,
    Moments,
    data_hash,
    difference_table,
    differences,
    filter_table,
    footprint,
    forecast_of,
    page,
    reference,
)
from records import records

from companion.fade import parameters as table
from companion.fade.fit import Case, Fit, fit

SEED = 20261018
CHAINS, WARM_UP, KEPT = 4, 1000, 2500


@dataclass(frozen=True)
class Run:
    forecast: Moments
    scores: dict[str, dict[str, float]]
    r_hat: float
    """Of the worst score."""
    effective: float
    """Draws that the worst score's are worth."""
    divergences: int
    seconds: float
    """Of the processor, for all of it: compiling, warming up, sampling."""
    sampling_seconds: float

    def stored(self) -> dict[str, Any]:
        return {
            "forecast": {"mean": self.forecast.mean, "sd": self.forecast.sd},
            "scores": self.scores,
            "r_hat": self.r_hat,
            "effective": self.effective,
            "divergences": self.divergences,
        }


# -- the sampler -------------------------------------------------------------------------------------------------
def run(case: Case, seed: int = SEED, warm_up: int = WARM_UP, kept: int = KEPT) -> Run:
    """Sample the fit's own likelihood: its posterior without the fit's importance sampling."""
    judged = likelihood.filtered(case)

    def model() -> None:
        scores = numpyro.sample("scores", dist.Normal(0, 1).expand([len(table.FREE)]))
        numpyro.factor("readings", judged(scores)[0])

    def ahead(draw: dict[str, Any]) -> Any:
        _, log_weight, p, state = judged(draw["scores"])
        return _moments_ahead(case, p, state, jnp.exp(log_weight))

    return _run(model, {"scores": jnp.zeros(len(table.FREE))}, ahead, seed, warm_up, kept, dense=True)


def run_paths(case: Case, seed: int = SEED, warm_up: int = WARM_UP, kept: int = KEPT) -> Run:
    """Sample the model itself: each night's deviation and the drift beside the parameters, and no filter."""
    judged, shape = paths.path(case), paths.latent_shape(case)

    def model() -> None:
        scores = numpyro.sample("scores", dist.Normal(0, 1).expand([len(table.FREE)]))
        latent = {name: numpyro.sample(name, dist.Normal(0, 1).expand(size)) for name, size in shape.items()}
        numpyro.factor("readings", judged(scores, paths.Latent(**latent))[0])

    def ahead(draw: dict[str, Any]) -> Any:
        latent = paths.Latent(**{name: draw[name] for name in shape})
        _, p, state = judged(draw["scores"], latent)
        return _moments_ahead(case, p, likelihood.State(*(part[None] for part in state)), jnp.ones(1))

    start = {"scores": jnp.zeros(len(table.FREE)), **{name: jnp.zeros(size) for name, size in shape.items()}}
    return _run(model, start, ahead, seed, warm_up, kept, dense=[("scores",)])


def _run(
    model: Callable[[], None],
    start: dict[str, Any],
    ahead: Callable[[dict[str, Any]], Any],
    seed: int,
    warm_up: int,
    kept: int,
    dense: bool | list[tuple[str]],
) -> Run:
    kernel = NUTS(model, dense_mass=dense, target_accept_prob=0.85, init_strategy=init_to_value(values=start))
    chains = MCMC(
        kernel,
        num_warmup=warm_up,
        num_samples=kept,
        num_chains=CHAINS,
        chain_method="vectorized",
        progress_bar=False,
    )
    begun = time.process_time()
    chains.warmup(jax.random.PRNGKey(seed))
    warm = time.process_time()
    chains.run(jax.random.PRNGKey(seed + 1), extra_fields=("diverging",))
    scores = np.asarray(chains.get_samples(group_by_chain=True)["scores"])
    done = time.process_time()
    moments = np.asarray(jax.lax.map(ahead, chains.get_samples(), batch_size=250))
    mean, sd = scores.mean(axis=(0, 1)), scores.std(axis=(0, 1))
    return Run(
        Moments.of(*moments.mean(axis=0)),
        {one.name: {"mean": float(mean[row]), "sd": float(sd[row])} for row, one in enumerate(table.FREE)},
        float(split_gelman_rubin(scores).max()),
        float(effective_sample_size(scores).min()),
        int(np.asarray(chains.get_extra_fields()["diverging"]).sum()),
        done - begun,
        done - warm,
    )


def _moments_ahead(case: Case, p: likelihood.Parameters, state: likelihood.State, weights: Any) -> Any:
    """Return first and second moment of each quantity at each hour, (2, quantities, hours), over the ways of the
    unknown nights and the normal state along each."""
    found = []
    for hours in HOURS.values():
        residual, spread = likelihood.ahead(case, p, state, hours)
        at = residual[:, None] + spread[:, None] * NODES
        values = jnp.stack([at, likelihood.acuity(case, p, at)])
        each = jnp.stack([values, values**2]) @ NODE_WEIGHTS
        found.append(each @ weights)
    return jnp.stack(found, axis=-1)


# -- the fit -----------------------------------------------------------------------------------------------------
def fitted(case: Case) -> tuple[Moments, Fit, float]:
    """Return what the personal fit says, the fit, and its seconds of the processor (median of 9)."""
    taken = []
    for _ in range(9):
        begun = time.process_time()
        found = fit(case)
        taken.append(time.process_time() - begun)
    return forecast_of(found, case), found, float(np.median(taken))


# -- by hand -----------------------------------------------------------------------------------------------------
def told(name: str, found: Run, case: Case) -> str:
    moments, one, seconds = fitted(case)
    off = differences(moments, found.forecast)
    sampling = found.sampling_seconds * one.effective / found.effective
    whole = found.seconds - found.sampling_seconds + sampling
    return (
        f"{name}: {CHAINS} chains, worst r-hat {found.r_hat:.4f}, effective {found.effective:.0f}, "
        f"{found.divergences} divergences, {found.seconds:.1f} s ({found.sampling_seconds:.1f} s sampling)\n"
        f"  fit: fell back {one.fell_back}, effective {one.effective:.0f} in {1e3 * seconds:.1f} ms; for as many "
        f"the run takes {whole:.1f} s, {whole / seconds:.0f} times as long "
        f"({sampling:.2f} s, {sampling / seconds:.0f} times, without compiling and warming up)\n"
        f"  fit against run: means off by up to {max(abs(each.mean_in_sd) for each in off):.3f} sd, "
        f"sds by {min(each.sd_ratio for each in off) - 1:+.1%} to {max(each.sd_ratio for each in off) - 1:+.1%}"
    )


def main(argv: Sequence[str] | None = None) -> None:
    ask = argparse.ArgumentParser(description="Long runs of a No-U-Turn sampler on five records.")
    ask.add_argument("--all", action="store_true", help="run all, write posterior.json and README.md")
    ask.add_argument("--difference", action="store_true", help="print what stored runs and fit differ by")
    ask.add_argument("names", nargs="*", help="records to run and print; paths: the runs without a filter")
    asked = ask.parse_args(argv)
    cases = records()
    if asked.difference:
        for name in PATH_RECORDS:
            print(f"\n{name}: the model itself (reference), the filter (other), both long runs\n")
            print(filter_table(name))
        for name, case in cases.items():
            print(f"\n{name}: long run (reference), fit (other)\n")
            print(difference_table(fitted(case)[0], reference(name)))
        return
    runs, free = {}, {}
    for name in cases if asked.all else [one for one in asked.names if one != "paths"]:
        runs[name] = run(cases[name])
        print(told(name, runs[name], cases[name]), flush=True)
    for name in PATH_RECORDS if asked.all or "paths" in asked.names else ():
        free[name] = run_paths(cases[name])
        print(told(f"{name}, without a filter", free[name], cases[name]), flush=True)
    if asked.all:
        found = {
            "seed": SEED,
            "versions": {name: version(name) for name in ("jax", "jaxlib", "numpyro", "numpy")},
            "data": data_hash(),
            "chains": CHAINS,
            "hours_ahead": list(HOURS.values()),
            "records": {name: one.stored() | {"footprint": footprint(cases[name])} for name, one in runs.items()},
            "paths": {name: one.stored() for name, one in free.items()},
        }
        FILE.write_text(json.dumps(json.loads(json.dumps(found), parse_float=_short), indent=1) + "\n", "utf-8")
        PAGE.write_text(page(), "utf-8")


def _short(digits: str) -> float:
    return float(f"{float(digits):.6g}")


if __name__ == "__main__":
    main()
