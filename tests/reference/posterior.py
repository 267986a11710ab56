"""What the long runs said, as data, and how a forecast is held against them. Needs no JAX: ``nuts.py`` does."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import records

from companion.fade import parameters as table
from companion.fade.filter import follow
from companion.fade.fit import Case, Fit
from companion.fade.population import drawn_at
from companion.fade.sight import acuity

FILE = Path(__file__).with_name("posterior.json")
PAGE = Path(__file__).with_name("README.md")
PATH_RECORDS = ("rich", "outlying")
"""On these the filter is held against the model itself: an ordinary diary, and the one with most to lose by it."""
HOURS = {"now": 0.0, "+12 h": 12.0, "tomorrow evening": 36.0, "+3 d": 72.0, "+7 d": 168.0}
"""From ``as_of``, a morning at eight, on; no lens goes in."""
SCORES_SEED = 20261019
QUANTITIES = ("residual_d", "acuity_logmar")
NODES, NODE_WEIGHTS = np.polynomial.hermite_e.hermegauss(24)
NODE_WEIGHTS = NODE_WEIGHTS / NODE_WEIGHTS.sum()


@dataclass(frozen=True)
class Moments:
    """Mean and standard deviation of each quantity at each of ``HOURS``."""

    mean: dict[str, list[float]]
    sd: dict[str, list[float]]

    @classmethod
    def of(cls, first: np.ndarray, second: np.ndarray) -> Moments:
        """Return them from the first and second moment, (quantities, hours)."""
        by_name = [
            dict(zip(QUANTITIES, each.tolist(), strict=True)) for each in (first, np.sqrt(second - first**2))
        ]
        return cls(*by_name)


def forecast_of(found: Fit, case: Case) -> Moments:
    times = [case.until_h + hours for hours in HOURS.values()]
    coming = follow(found.draws, found.state, [], (), times)
    at = coming.residual_d + coming.spread_d * NODES[:, None, None]
    values = np.stack([at, acuity(found.draws, at)])
    first, second = (
        np.einsum("k,qkhn->qh", NODE_WEIGHTS, each) / found.draws.count for each in (values, values**2)
    )
    return Moments.of(first, second)


# -- what is kept ------------------------------------------------------------------------------------------------
def footprint(case: Case) -> list[float]:
    """Return the log likelihood of the record and what it foretells, at a few scores, some far out.

    A run that was made with another footprint is of another model: other numbers, or other equations.
    """
    scores = 1.5 * np.random.default_rng(SCORES_SEED).standard_normal((len(table.FREE), 8))
    draws = drawn_at(case.treatment, scores)
    found = follow(draws, case.start(draws), case.stretches, case.readings, [case.until_h + 36.0])
    foretold = np.concatenate([found.log_likelihood, found.residual_d[0], found.spread_d[0]])
    return [float(one) for one in foretold]


def data_hash() -> str:
    return hashlib.sha256(records.FILE.read_bytes()).hexdigest()[:16]


def stored() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(FILE.read_text("utf-8"))
    return found


def reference(name: str) -> Moments:
    return Moments(**stored()["records"][name]["forecast"])


def reference_paths(name: str) -> Moments:
    return Moments(**stored()["paths"][name]["forecast"])


@dataclass(frozen=True)
class Difference:
    quantity: str
    when: str
    mean_in_sd: float
    """The other's mean from the reference's, in the reference's standard deviations."""
    sd_ratio: float
    """The other's standard deviation over the reference's."""


def differences(other: Moments, reference: Moments) -> list[Difference]:
    return [
        Difference(
            quantity,
            when,
            (other.mean[quantity][row] - reference.mean[quantity][row]) / reference.sd[quantity][row],
            other.sd[quantity][row] / reference.sd[quantity][row],
        )
        for quantity in QUANTITIES
        for row, when in enumerate(HOURS)
    ]


def difference_table(other: Moments, reference: Moments) -> str:
    """Return a table: by how much another forecast differs from the reference."""
    lines = [
        "| | reference | other | mean off, in sd | sd, ratio |",
        "| --- | --- | --- | --- | --- |",
    ]
    for one in differences(other, reference):
        row = list(HOURS).index(one.when)
        said = [
            f"{each.mean[one.quantity][row]:.3f} ± {each.sd[one.quantity][row]:.3f}" for each in (reference, other)
        ]
        unit = {"residual_d": "residual [D]", "acuity_logmar": "acuity [logMAR]"}[one.quantity]
        lines.append(f"| {unit}, {one.when} | {' | '.join(said)} | {one.mean_in_sd:+.2f} | {one.sd_ratio:.2f} |")
    return "\n".join(lines)


def filter_table(name: str) -> str:
    """Return by how much the filter differs from the model itself, in two long runs."""
    return difference_table(reference(name), reference_paths(name))


def page() -> str:
    tables = "\n\n".join(f'### "{name}"\n\n{filter_table(name)}' for name in PATH_RECORDS)
    return f"""# What the personal fit is held against

`records.json` holds five records (`records.py` wrote them, seeded), `posterior.json` what a long run of a
No-U-Turn sampler (NumPyro) says of each: means and standard deviations of refraction and acuity, no lens worn
from then on, and of the scores. `likelihood.py` is the model written a second time, from its equations; `nuts.py`
runs it and wrote this page and `posterior.json`:

    .venv/bin/python tests/reference/nuts.py --all

`tests/fade/test_reference_posterior.py` holds the fit to these: means within 0.15 sd, standard deviations within
10 %; and it runs one record again.

## The filter against the model itself

The fit follows deviation and drift by a filter that takes the eye's state for normal and the noise of a check at
the expected blur. Here are two records sampled with each leg's deviation and drift as unknowns of their own
(reference), beside the long run of the filter's likelihood (other). In an ordinary diary the two nearly agree.
Where four of fourteen checks are far off, the model itself believes in more blur, which brings more noise.
`nuts.py --difference` prints this.

{tables}
"""
