"""The closed form against two independent solvers, and its limits."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from companion.fade.stores import Rates, Stores, either, nothing_yet, rest, settled_morning, wear

RATES = [
    (9.0, 15.0, 35.0, 100.0),
    (15.0, 9.0, 20.0, 300.0),
    (12.0, 12.0, 35.0, 100.0),
    (12.0, 12.0 + 1e-9, 35.0, 100.0),
]
STARTS = [(0.0, 0.0), (0.3, 0.5), (0.7, 0.1), (0.0, 1.0)]
HOURS = [0.0, 0.5, 3.0, 8.0, 24.0, 36.0, 400.0]


def rates_of(*rows: tuple[float, float, float, float]) -> Rates:
    return Rates(*np.array(rows, dtype=float).T)


def slope(t: float, x: np.ndarray, row: tuple[float, float, float, float], lens_in: bool) -> np.ndarray:
    f, s = x
    a, c, fresh, settled = row
    return np.array([(1 - f - s) / a - f / c, f / c] if lens_in else [-f / fresh, -s / settled])


@pytest.mark.parametrize("start", STARTS)
@pytest.mark.parametrize("hours", HOURS)
@pytest.mark.parametrize("lens_in", [True, False])
def test_a_step_is_the_matrix_exponential_and_the_integrated_equations(
    start: tuple[float, float], hours: float, lens_in: bool
) -> None:
    step = (wear if lens_in else rest)(rates_of(*RATES), hours)
    got = step(Stores(*(np.full(len(RATES), one) for one in start)))
    for i, row in enumerate(RATES):
        a, c, fresh, settled = row
        if lens_in:
            augmented = np.array([[-1 / a - 1 / c, -1 / a, 1 / a], [1 / c, 0, 0], [0, 0, 0]])
        else:
            augmented = np.array([[-1 / fresh, 0, 0], [0, -1 / settled, 0], [0, 0, 0]])
        exact = (expm(augmented * hours) @ np.array([*start, 1.0]))[:2]
        assert (got.fresh[i], got.settled[i]) == pytest.approx(tuple(exact), abs=1e-9)
        if hours:
            told = solve_ivp(slope, (0, hours), start, args=(row, lens_in), method="LSODA", rtol=1e-9, atol=1e-11)
            assert (got.fresh[i], got.settled[i]) == pytest.approx(tuple(told.y[:, -1]), abs=1e-6)


@pytest.mark.parametrize("step_of", [wear, rest])
def test_a_step_of_a_plus_b_is_a_then_b(step_of: type) -> None:
    rates = rates_of(*RATES)
    start = Stores(np.full(4, 0.3), np.full(4, 0.4))
    whole = step_of(rates, 11.0)(start)
    parts = step_of(rates, 7.0)(step_of(rates, 4.0)(start))
    composed = step_of(rates, 4.0).then(step_of(rates, 7.0))(start)
    for other in (parts, composed):
        np.testing.assert_allclose(np.array(whole), np.array(other), atol=1e-13)


def test_the_fixed_point_is_where_repeating_ends() -> None:
    rates = rates_of(*RATES)
    day = rest(rates, 16).then(wear(rates, 8))
    state = nothing_yet(rates)
    for _ in range(2000):
        state = day(state)
    np.testing.assert_allclose(np.array(day.fixed_point()), np.array(state), atol=1e-10)
    np.testing.assert_allclose(settled_morning(rates), state.total, atol=1e-10)


def test_each_draw_goes_its_own_way() -> None:
    rates = rates_of(*RATES)
    step = either(np.array([1.0, 0.0, 1.0, 0.0]), wear(rates, 8), rest(rates, 8))
    got = step(Stores(np.full(4, 0.2), np.full(4, 0.2)))
    worn, not_worn = (make(rates, 8)(Stores(np.full(4, 0.2), np.full(4, 0.2))) for make in (wear, rest))
    np.testing.assert_array_equal(got.total[[0, 2]], worn.total[[0, 2]])
    np.testing.assert_array_equal(got.total[[1, 3]], not_worn.total[[1, 3]])


def test_years_of_wear_or_rest_neither_overflow_nor_leave_the_bounds() -> None:
    rates = rates_of(*RATES)
    start = Stores(np.full(4, 0.5), np.full(4, 0.5))
    np.testing.assert_allclose(wear(rates, 1e6)(start).total, 1.0)
    np.testing.assert_allclose(rest(rates, 1e6)(start).total, 0.0)
