"""The personal fit against long runs of another sampler on the same likelihood, written independently in JAX.

The other sampler: NumPyro's No-U-Turn sampler. Its runs are data (tests/reference): after a change of the model's
numbers, `.venv/bin/python tests/reference/nuts.py --all` runs them anew.
"""

import sys
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parents[1] / "reference"))

import posterior
from records import records

from companion.fade.filter import follow
from companion.fade.fit import fit
from companion.fade.parameters import FREE
from companion.fade.population import drawn_at

MEAN_OFF_SD, SD_OFF = 0.15, 0.10
"""How far the fit's forecast may lie from a long run's: its means in standard deviations, those in their own."""
SAMPLED_AGAIN_MEAN_SD, SAMPLED_AGAIN_SD = 0.06, 0.05
"""How far two long runs lie apart at most: some four of their own standard errors."""
CASES = records()
AGAIN = "thin"


def off(other: posterior.Moments, reference: posterior.Moments) -> tuple[float, float]:
    """Return by how much the worst mean and the worst standard deviation are off."""
    found = posterior.differences(other, reference)
    return max(abs(one.mean_in_sd) for one in found), max(abs(one.sd_ratio - 1) for one in found)


def test_the_stored_runs_are_of_these_records() -> None:
    kept = posterior.stored()
    assert kept["data"] == posterior.data_hash(), "run tests/reference/nuts.py --all"
    assert set(kept["records"]) == set(CASES)


@pytest.mark.parametrize("name", CASES)
def test_the_stored_runs_are_of_todays_likelihood(name: str) -> None:
    kept = posterior.stored()["records"][name]["footprint"]
    assert posterior.footprint(CASES[name]) == pytest.approx(kept, rel=1e-5, abs=1e-5), (
        "run tests/reference/nuts.py --all"
    )


@pytest.mark.parametrize("name", CASES)
def test_the_stored_runs_have_converged(name: str) -> None:
    kept = posterior.stored()["records"][name]
    assert kept["r_hat"] < 1.01
    assert kept["effective"] > 4000


@pytest.mark.parametrize("name", CASES)
def test_the_fit_says_what_a_long_run_says(name: str) -> None:
    found = fit(CASES[name])
    assert found.fell_back is None
    forecast, reference = posterior.forecast_of(found, CASES[name]), posterior.reference(name)
    mean_off, sd_off = off(forecast, reference)
    assert mean_off <= MEAN_OFF_SD and sd_off <= SD_OFF, posterior.difference_table(forecast, reference)


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_the_two_likelihoods_are_one(name: str) -> None:
    """At any scores, far out too: the filter along every pattern of unknown nights, the other's sum over them."""
    import likelihood  # brings JAX with it: not for every run of the quick tests

    case = CASES[name]
    scores = 1.5 * np.random.default_rng(7).standard_normal((len(FREE), 200))
    draws = drawn_at(case.treatment, scores)
    unknown = [night for night in case.stretches if night.chance < 1]
    ours = []
    for pattern in product((True, False), repeat=len(unknown)):
        skipped = [night for night, worn in zip(unknown, pattern, strict=True) if not worn]
        known = [replace(night, chance=1.0) for night in case.stretches if night not in skipped]
        chance = np.prod([1 - night.chance if night in skipped else night.chance for night in unknown])
        ours.append(np.log(chance) + follow(draws, case.start(draws), known, case.readings).log_likelihood)
    np.testing.assert_allclose(likelihood.log_likelihoods(case, scores), np.logaddexp.reduce(ours), atol=1e-9)


@pytest.mark.slow
def test_a_run_of_today_says_what_the_stored_one_says_and_so_does_the_fit() -> None:
    import nuts  # brings JAX with it: not for every run of the quick tests

    case = CASES[AGAIN]
    again = nuts.run(case, seed=nuts.SEED + 100).forecast
    mean_off, sd_off = off(again, posterior.reference(AGAIN))
    assert mean_off <= SAMPLED_AGAIN_MEAN_SD and sd_off <= SAMPLED_AGAIN_SD
    mean_off, sd_off = off(posterior.forecast_of(fit(case), case), again)
    assert mean_off <= MEAN_OFF_SD and sd_off <= SD_OFF


@pytest.mark.parametrize("name", posterior.PATH_RECORDS)
def test_the_page_says_by_how_much_the_filter_differs_from_the_model_itself(name: str) -> None:
    """That the filter's state is normal is an approximation, and the page owns up to it."""
    kept = posterior.stored()["paths"][name]
    assert kept["r_hat"] < 1.01 and kept["effective"] > 4000
    assert posterior.filter_table(name) in posterior.PAGE.read_text("utf-8")
