"""Acuity from defocus against published tables, each row with its source and status (V, memory, INF, CALC)."""

import numpy as np
import pytest

from companion.fade.band import band
from companion.fade.deviation import scatter_d
from companion.fade.parameters import FREE
from companion.fade.population import COUNT, Treatment, draw, drawn_at
from companion.fade.sight import acuity, acuity_logmar, blur_d, usable_accommodation_d


def sees(defocus_d: float) -> float:
    median = drawn_at(Treatment(-3.0, 0.5, 12, best_acuity_logmar=0.0), np.zeros((len(FREE), 1)))
    return float(acuity_logmar(median, np.array([defocus_d]))[0])


@pytest.mark.parametrize(
    ("defocus_d", "low", "high"),
    [
        # Optom Vis Sci 1991;68:591 (memory), Optom Vis Sci 2015 pubmed 25955640 (V), a table of 1945 (memory)
        (0.50, 0.10, 0.28),
        (1.00, 0.30, 0.53),
        (2.00, 0.60, 0.90),
        (3.00, 0.77, 1.10),
    ],
)
def test_acuity_at_a_defocus(defocus_d: float, low: float, high: float) -> None:
    assert low <= sees(defocus_d) <= high


def test_slope_over_the_first_2_d() -> None:
    """ARVO abstract 2372581: 0.50 logMAR a dioptre (V); 0.30 to 0.55 over all sources."""
    assert 0.30 <= (sees(2.0) - sees(0.0)) / 2.0 <= 0.55


def test_plus_is_invisible_to_a_child() -> None:
    """+0.75 D at 10 years: handbook accommodation, from memory."""
    assert blur_d(np.array([0.75]), 10)[0] == 0.0
    assert sees(0.0) == 0.0


def test_plus_counts_as_blur_late_in_life() -> None:
    assert usable_accommodation_d(60) == 0.0
    assert blur_d(np.array([0.75]), 60)[0] == 0.75
    assert 0.0 < blur_d(np.array([0.75]), 58)[0] < 0.75


@pytest.mark.parametrize(("distance_m", "blur"), [(0.4, 0.0), (1.0, 1.0), (3.0, 1.67), (None, 2.0)])
def test_a_short_sighted_eye_gains_by_nearness(distance_m: float | None, blur: float) -> None:
    """-2.00 D, geometry: CALC."""
    assert blur_d(np.array([-2.0]), 10, distance_m)[0] == pytest.approx(blur, abs=0.005)


def test_the_population_is_the_same_for_everyone_who_asks_and_spreads_as_said() -> None:
    one, two = draw(Treatment(-3.0, 0.5, 12)), draw(Treatment(-3.0, 0.5, 12))
    np.testing.assert_array_equal(one.gain, two.gain)
    assert one.gain.shape == (COUNT,)
    assert np.median(one.gain) == pytest.approx(0.95, abs=0.002)
    assert np.std(one.gain) == pytest.approx(0.16, abs=0.01)
    assert np.median(one.rates.build_h) == pytest.approx(9.5, rel=0.01)
    low, high = np.percentile(one.rates.build_h, (15.87, 84.13))
    assert high / low == pytest.approx(1.35**2, rel=0.01)


def test_parameters_are_drawn_apart_from_each_other() -> None:
    draws = draw(Treatment(-3.0, 0.5, 12))
    columns = (
        draws.gain,
        np.log(draws.rates.build_h),
        np.log(draws.rates.settled_fade_h),
        np.log(draws.night_spread_d),
        draws.best_acuity_logmar,
        draws.loss_at_1_d,
        np.log(draws.form),
    )
    assert np.abs(np.corrcoef(columns) - np.eye(len(columns))).max() < 0.08


def test_the_settled_morning_spreads_as_published() -> None:
    """Morning residual SD 0.4 to 0.6 D: INF from Optom Vis Sci 2004;81:407 (V), night noise included."""
    draws = draw(Treatment(-2.25, 0.5, 10))
    spread = float(np.std(draws.residual_d(np.ones((1, COUNT))) + scatter_d(draws)))
    assert 0.4 <= spread <= 0.66


@pytest.mark.parametrize("unusual", [Treatment(-5.0, 0.5, 12), Treatment(-3.0, 0.5, 50), Treatment(1.5, -1.5, 12)])
def test_bands_are_wider_where_less_is_known(unusual: Treatment) -> None:
    usual = draw(Treatment(-3.0, 0.5, 12))
    assert np.std(draw(unusual).gain) > 1.1 * np.std(usual.gain)


def test_a_lens_that_steepens_moves_the_eye_to_minus() -> None:
    draws = draw(Treatment(1.5, -1.0, 12))
    none, full = (np.median(draws.residual_d(np.full((1, COUNT), one))) for one in (0.0, 1.0))
    assert none == 1.5
    assert full == pytest.approx(1.5 - 2.5 * 0.95, abs=0.05)


def test_older_eyes_build_more_slowly() -> None:
    """Optom Vis Sci 2005;82:505: direction, from memory."""
    old, young = draw(Treatment(-2.0, 0.5, 50)), draw(Treatment(-2.0, 0.5, 12))
    assert np.median(old.rates.build_h) > np.median(young.rates.build_h)


def test_a_measured_best_acuity_is_believed() -> None:
    draws = draw(Treatment(-2.0, 0.5, 12, best_acuity_logmar=-0.10))
    sharp = acuity(draws, np.zeros((1, COUNT)))
    p05, p50, p95 = (float(one[0]) for one in band(sharp))
    assert p50 == pytest.approx(-0.10, abs=0.002)
    assert p95 - p05 == pytest.approx(2 * 1.645 * 0.03, rel=0.03)
    assert np.mean(sharp <= 0.2) == 1.0
    assert np.mean(sharp <= -0.3) == 0.0
