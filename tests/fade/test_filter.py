"""The filter against brute force: what it says of deviations, of readings and of nights that nobody knows."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import t as student_t

from companion.fade.course import MOST_SHARE, Stretch
from companion.fade.filter import NIGHT, NIGHT_VAR, State, follow, started
from companion.fade.observation import (
    ADULT_SPREAD,
    FREEDOM,
    Expected,
    RefractionReading,
    SightReading,
    chance_below,
    expected,
    log_density,
    usual_spread,
)
from companion.fade.parameters import DRIFT_D, DRIFT_H, FREE
from companion.fade.population import COUNT, Draws, Treatment, draw, drawn_at
from companion.fade.stores import nothing_yet, settled_morning

CHILD = Treatment(-3.0, 0.5, 10)


def alike(count: int, treatment: Treatment = CHILD, **scores: float) -> Draws:
    """Return the same eye ``count`` times: only what is left to chance differs."""
    z = np.zeros((len(FREE), count))
    for row, one in enumerate(FREE):
        z[row] = scores.get(one.name, 0.0)
    return drawn_at(treatment, z)


def new(draws: Draws) -> State:
    return started(draws, 0.0, nothing_yet(draws.rates), settled=False)


NIGHTS = [Stretch(24.0 * night, 24.0 * night + 8.5) for night in range(6)]


def test_deviation_and_drift_spread_as_their_equations_do() -> None:
    """Euler steps of the two stochastic equations, 20,000 paths."""
    one = alike(1)
    got = follow(one, new(one), NIGHTS, (), [40.0, 151.0])
    rng = np.random.default_rng(11)
    count, step = 20_000, 0.05
    night, drift, seen = np.zeros(count), np.zeros(count), {}
    build, fade, spread = one.rates.build_h[0], one.rates.settled_fade_h[0], one.night_spread_d[0]
    for tick in range(round(151.0 / step)):
        hour = tick * step
        lens_in = any(each.start_h <= hour < each.end_h for each in NIGHTS)
        if lens_in:
            night += -night / build * step + np.sqrt(2 * step / build) * spread * rng.standard_normal(count)
        else:
            night -= night / fade * step
        drift += -drift / DRIFT_H * step + np.sqrt(2 * step / DRIFT_H) * DRIFT_D * rng.standard_normal(count)
        seen[round(hour + step, 2)] = float(np.std(night + drift))
    assert got.spread_d[:, 0] == pytest.approx([seen[40.0], seen[151.0]], rel=0.03)


def test_a_reading_teaches_what_bayes_says() -> None:
    """A refraction, which is linear: the middle of its Student-t against a grid over the two unknowns."""
    one = alike(1)
    before = follow(one, new(one), NIGHTS, (), [150.0])
    mean, spread = before.residual_d[0, 0], before.spread_d[0, 0]
    reading = RefractionReading(150.0, float(mean + 0.1))
    after = follow(one, new(one), NIGHTS, [reading], [150.0 + 1e-6])
    grid = np.linspace(-3, 3, 20_001)
    prior = np.exp(-0.5 * (grid / spread) ** 2)
    noise = expected(one, reading, np.array([[0.0]]), np.array([[0.0]])).spread[0, 0]
    weight = prior * student_t(FREEDOM, scale=noise).pdf(0.1 - grid)
    weight /= weight.sum()
    true_mean = float(weight @ grid)
    assert after.residual_d[0, 0] - mean == pytest.approx(true_mean, abs=0.012)
    assert after.spread_d[0, 0] == pytest.approx(float(np.sqrt(weight @ (grid - true_mean) ** 2)), rel=0.08)


def test_a_reading_before_any_wear_teaches_nothing_and_breaks_nothing() -> None:
    draws = draw(CHILD)
    readings = [SightReading(0.0, 0.9), RefractionReading(0.0, -3.1)]
    got = follow(draws, new(draws), NIGHTS, readings, [0.0, 30.0])
    assert np.isfinite(got.log_likelihood).all()
    np.testing.assert_allclose(got.residual_d, follow(draws, new(draws), NIGHTS, (), [0.0, 30.0]).residual_d)


def test_a_wild_reading_is_hardly_heard() -> None:
    one = alike(1)

    def moved(off: float) -> float:
        sharp = follow(one, new(one), NIGHTS, (), [150.0]).residual_d[0, 0]
        got = follow(one, new(one), NIGHTS, [RefractionReading(150.0, float(sharp - off))], [150.0 + 1e-6])
        return float(sharp - got.residual_d[0, 0])

    assert 0 < moved(8.0) < moved(0.5)


def test_the_likelihood_is_the_product_of_what_each_reading_was_given() -> None:
    draws = draw(CHILD)
    readings = [SightReading(9.5, 0.1), SightReading(33.0, 0.0, 0.05, 3.0), RefractionReading(60.0, -0.25)]
    got = follow(draws, new(draws), NIGHTS, readings)
    np.testing.assert_allclose(got.log_steps.sum(axis=0), got.log_likelihood)
    for reading, what, step in zip(readings, got.foretold, got.log_steps, strict=True):
        np.testing.assert_allclose(log_density(reading, what), step)


UNKNOWN = [Stretch(one.start_h, one.end_h, 0.7, key) for key, one in enumerate(NIGHTS)]


@pytest.mark.parametrize("hours", [[60.0, 84.0, 108.0, 132.0], [130.0]])
def test_unknown_nights_are_averaged_over_exactly(hours: list[float]) -> None:
    """The mean likelihood over the dice of one eye, against every pattern of nights written out.

    Between the readings up to six nights are unknown: fewer branches are kept than there are patterns.
    """
    count = 4 * COUNT
    one, many = alike(1), alike(count)
    readings = [SightReading(hour, 0.3 if place % 2 else 0.1) for place, hour in enumerate(hours)]
    exact = 0.0
    for pattern in product((True, False), repeat=len(UNKNOWN)):
        chance = np.prod([0.7 if worn else 0.3 for worn in pattern])
        known = [night for night, worn in zip(NIGHTS, pattern, strict=True) if worn]
        exact += chance * np.exp(follow(one, new(one), known, readings).log_likelihood[0])
    got = np.exp(follow(many, new(many), UNKNOWN, readings).log_likelihood)
    error = got.std() / np.sqrt(COUNT)  # the dice repeat after COUNT draws
    assert got.mean() == pytest.approx(exact, abs=3 * error + 1e-12)
    assert error < 0.05 * exact


def test_without_readings_unknown_nights_are_worn_as_often_as_the_habit_says() -> None:
    many = alike(COUNT)
    state = follow(many, new(many), UNKNOWN[:1], (), until_h=8.5).state
    assert np.mean(state.values[1] > 0) == pytest.approx(0.7, abs=0.04)


def test_a_split_night_and_other_marks_change_nothing() -> None:
    draws = draw(CHILD)
    whole = follow(draws, new(draws), NIGHTS, (), [140.0]).state
    halves = [
        Stretch(a, b) for one in NIGHTS for a, b in ((one.start_h, one.start_h + 3), (one.start_h + 3, one.end_h))
    ]
    split = follow(draws, new(draws), halves, (), [1.0, 5.5, 77.0, 140.0]).state
    np.testing.assert_allclose(split.values, whole.values, atol=1e-12)


def test_a_lens_renews_the_nights_deviation_and_rest_only_shrinks_it() -> None:
    one = alike(1)
    state = follow(one, new(one), NIGHTS, (), until_h=128.5).state
    longer = follow(one, state, [Stretch(128.5, 200.0)], (), until_h=200.0).state
    assert longer.values[NIGHT_VAR, 0] == pytest.approx(one.night_spread_d[0] ** 2, rel=0.01)
    rested = follow(one, longer, [], (), until_h=300.0).state
    assert rested.values[NIGHT_VAR, 0] < 0.2 * longer.values[NIGHT_VAR, 0]
    assert rested.values[NIGHT, 0] == 0.0


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    worn=st.lists(st.booleans(), min_size=1, max_size=12),
    hours=st.lists(st.floats(0.5, 14), min_size=12, max_size=12),
    days=st.integers(0, 4000),
    later=st.floats(0, 100),
)
def test_shifting_everything_by_whole_days_changes_nothing(
    worn: list[bool], hours: list[float], days: int, later: float
) -> None:
    draws = alike(1)
    nights = [Stretch(24.0 * i, 24.0 * i + hours[i]) for i, one in enumerate(worn) if one]
    end = 24.0 * len(worn) + later
    there = follow(draws, new(draws), nights, [SightReading(end, 0.1)], [end]).residual_d
    moved = [Stretch(one.start_h + 24.0 * days, one.end_h + 24.0 * days) for one in nights]
    start = started(draws, 24.0 * days, nothing_yet(draws.rates), settled=False)
    end += 24.0 * days
    np.testing.assert_allclose(
        follow(draws, start, moved, [SightReading(end, 0.1)], [end]).residual_d, there, atol=1e-9
    )


@settings(max_examples=40, deadline=None, derandomize=True)
@given(hours=st.lists(st.floats(0.0, 23.9), min_size=1, max_size=12), later=st.floats(0, 200))
def test_the_mean_share_keeps_its_bounds_and_a_mirrored_sign_mirrors(hours: list[float], later: float) -> None:
    scores = {"gain": 0.4, "build_h": 0.7, "fresh_fade_h": -0.5}
    flatter = alike(1, Treatment(-2.0, 0.5, 12), **scores)
    nights = [Stretch(24.0 * i, 24.0 * i + one) for i, one in enumerate(hours) if one > 0]
    times = [24.0 * len(hours) + later]
    one = follow(flatter, new(flatter), nights, (), times)
    share = (one.residual_d + 2.0) / (2.5 * flatter.gain)
    assert -1e-12 <= share[0, 0] <= MOST_SHARE + 1e-12
    # Priors of a steepening lens are wider: the same parameters, not the same scores, mirror.
    steeper = replace(flatter, treatment=Treatment(2.0, -0.5, 12))
    other = follow(steeper, new(steeper), nights, (), times)
    np.testing.assert_allclose(other.residual_d, -one.residual_d, atol=1e-12)


def test_the_noise_of_a_check_grows_with_blur_as_published() -> None:
    """Invest Ophthalmol Vis Sci 2004;45:1076 (V): 0.11, 0.18, 0.25 at 0, 0.5 and 1 D."""
    one = alike(1, Treatment(-3.0, 0.5, 30))
    still = np.array([[1e-9]])
    at = [
        float(expected(one, SightReading(0, 0), np.array([[-d]]), still).spread[0, 0])
        for d in (0.0, 0.5, 1.0, 2.0)
    ]
    assert at[1] / at[0] == pytest.approx(0.18 / 0.11, abs=0.06)
    assert at[2] / at[0] == pytest.approx(0.25 / 0.11, abs=0.06)
    assert at[3] == pytest.approx(at[2], rel=0.01)


def test_a_check_holds_as_much_of_its_middle_as_its_spread_says() -> None:
    one = alike(1, Treatment(-3.0, 0.5, 30))
    what = expected(one, SightReading(0, 0), np.array([[0.0]]), np.array([[1e-9]]))
    middle = chance_below(float(what.value[0, 0]) + ADULT_SPREAD, what) - chance_below(
        float(what.value[0, 0]) - ADULT_SPREAD, what
    )
    assert middle[0, 0] == pytest.approx(0.683, abs=0.01)
    assert usual_spread(10) > usual_spread(30)


def test_the_distance_of_a_check_counts() -> None:
    """Geometry, CALC: at 2 m half a dioptre of short sight does not blur."""
    one = alike(1)
    far, near = (
        float(expected(one, SightReading(0, 0, None, away), np.array([[-0.5]]), np.array([[1e-9]])).value[0, 0])
        for away in (None, 2.0)
    )
    assert near == pytest.approx(float(one.best_acuity_logmar[0]), abs=1e-6)
    assert far > near + 0.1


@pytest.mark.parametrize("off", [-5.0, -1.3, 0.0, 0.2, 2.0, 9.0])
def test_the_closed_form_of_the_students_t(off: float) -> None:
    what = Expected(np.array([0.0]), np.array([1.0]), np.array([0.0]))
    assert chance_below(off, what)[0] == pytest.approx(student_t(FREEDOM).cdf(off), abs=1e-12)
    density = np.exp(log_density(SightReading(0.0, off), what))[0]
    assert density == pytest.approx(student_t(FREEDOM).pdf(off), rel=1e-12)


def test_the_settled_share_is_what_the_state_says() -> None:
    one = alike(1)
    nights = [Stretch(24.0 * night, 24.0 * night + 8.0) for night in range(60)]
    state = follow(one, new(one), nights, (), until_h=59 * 24 + 8.0).state
    assert state.values[1, 0] / settled_morning(one.rates)[0] == pytest.approx(1.0, abs=1e-3)
