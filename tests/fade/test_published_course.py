"""The effect over nights and days against what was published. Each row carries its source and how far to trust it:
V: seen, usually the abstract; memory: recalled, unverified; INF: our inference; CALC: arithmetic or logic.
"""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.fade import parameters as table
from companion.fade import population
from companion.fade.course import MOST_SHARE, Stretch, settled_evening, shares
from companion.fade.parameters import fade_scale
from companion.fade.population import Treatment
from companion.fade.stores import Rates, nothing_yet, settled_morning

MEDIAN = Rates(
    *(np.array([one.median]) for one in (table.BUILD_H, table.SETTLE_H, table.FRESH_FADE_H, table.SETTLED_FADE_H))
)
SETTLED_NIGHTS = 40


def nightly(nights: int, hours: float = 8.0, every: int = 1) -> list[Stretch]:
    return [Stretch(24.0 * i, 24.0 * i + hours) for i in range(0, nights, every)]


def share(stretches: list[Stretch], *times: float) -> list[float]:
    return [float(one) for one in shares(MEDIAN, 0.0, nothing_yet(MEDIAN), stretches, times)[:, 0]]


def morning(night: int) -> float:
    return share(nightly(night), 24.0 * (night - 1) + 8)[0]


def settled_after(hours_off: float) -> float:
    return share(nightly(SETTLED_NIGHTS), 24.0 * (SETTLED_NIGHTS - 1) + 8 + hours_off)[0]


@pytest.mark.parametrize(
    ("what", "value", "low", "high"),
    [
        # J Ophthalmic Vis Res 2020 (0.67), Eye Contact Lens 2004;30:189 (0.54): V
        ("night 1", lambda: morning(1), 0.55, 0.75),
        # Eye Contact Lens 2004;30:189 V; Ophthalmic Physiol Opt 2013;33:277 memory
        ("night 4", lambda: morning(4), 0.92, 1.02),
        # Eye Contact Lens 2003;29:137, Optom Vis Sci 2003;80:796: V
        ("night 7", lambda: morning(7), 0.97, 1.02),
        # Invest Ophthalmol Vis Sci 2003;44:2518, Optom Vis Sci 2003;80:796: V
        ("change from night 10 to 30", lambda: abs(morning(30) - morning(10)), 0.0, 0.02),
        # Int Contact Lens Clin 1998;25:59: memory
        ("loss over 14 h on day 1", lambda: 1 - share(nightly(1), 22)[0] / morning(1), 0.15, 0.35),
        # Eye Contact Lens 2003;29:137 and J Ophthalmol 2018;3174826 V; Int Contact Lens Clin 1998;25:59 memory
        ("loss over 14 h, settled", lambda: 1 - settled_after(14) / settled_after(0), 0.05, 0.25),
        # Eye Contact Lens 2004;30:247 against 2004;30:254: V, broad
        ("72 h off", lambda: settled_after(72), 0.05, 0.55),
        ("7 days off", lambda: settled_after(168), 0.0, 0.25),  # Eye Contact Lens 2004;30:254: V, inferred
        ("14 days off", lambda: settled_after(336), 0.0, 0.06),  # the same
        ("30 days off", lambda: settled_after(720), 0.0, 0.02),  # J Ophthalmol 2018;7106028: V
    ],
)
def test_published_shares(what: str, value: Callable[[], float], low: float, high: float) -> None:
    assert low <= value() <= high, what


def test_a_settled_eye_loses_no_more_over_the_day_than_a_new_one() -> None:
    """Direction: Cont Lens Anterior Eye 2007;30:29, from memory."""
    assert settled_after(14) / settled_after(0) > share(nightly(1), 22)[0] / morning(1)


@pytest.mark.parametrize(
    ("hours", "low", "high"),
    [(24, 0.55, 0.82), (48, 0.25, 0.67), (72, 0.05, 0.55), (168, 0.0, 0.25), (336, 0.0, 0.06)],
)
def test_the_fade_after_a_stop(hours: float, low: float, high: float) -> None:
    """INF: plausible bands between Eye Contact Lens 2004;30:247, which pulls down, and 2004;30:254 (V)."""
    assert low <= settled_after(hours) <= high


@pytest.mark.parametrize(("hours", "expected"), [(6, 0.91), (7, 0.96), (8, 1.00), (9, 1.03), (10, 1.05)])
def test_hours_a_night(hours: float, expected: float) -> None:
    """INF: no trial of hours a night was found."""
    assert share(nightly(60, hours), 59 * 24 + hours)[0] == pytest.approx(expected, abs=0.01)


def test_alternate_nights_evening_after_the_night_off() -> None:
    """INF: 0.40 to 0.65, below the nightly evening's 0.75 to 0.90."""
    every_other = share(nightly(60, every=2), 58 * 24 + 8 + 38)[0]
    assert 0.40 <= every_other <= 0.65
    assert 0.75 <= settled_after(14) <= 0.90


def residual(baseline: float, aim: float, hours_off: float) -> float:
    """Return the settled median eye's residual [D], with its treatment's own fade and gain 1."""
    scale = fade_scale(aim - baseline)
    rates = Rates(MEDIAN.build_h, MEDIAN.settle_h, MEDIAN.fresh_fade_h * scale, MEDIAN.settled_fade_h * scale)
    end = 24.0 * (SETTLED_NIGHTS - 1) + 8
    got = shares(rates, 0.0, nothing_yet(rates), nightly(SETTLED_NIGHTS), [end + hours_off])
    return baseline + (aim - baseline) * float(got[0, 0])


@pytest.mark.parametrize(
    ("baseline", "hours_off", "low", "high"),
    [
        (-3.0, 14, -0.6, 0.2),  # INF: evening
        (-3.0, 38, -1.4, -0.5),  # INF: one night left out, the next evening
        (-1.0, 38, -0.4, 0.1),  # INF: the same at 1 D
    ],
)
def test_residuals_of_a_settled_eye(baseline: float, hours_off: float, low: float, high: float) -> None:
    assert low <= residual(baseline, 0.5, hours_off) <= high
    draws = population.draw(Treatment(baseline, 0.5, 12))
    end = 24.0 * (SETTLED_NIGHTS - 1) + 8
    got = shares(draws.rates, 0.0, nothing_yet(draws.rates), nightly(SETTLED_NIGHTS), [end + hours_off])
    assert low <= np.median(draws.residual_d(got)) <= high


def test_larger_treatments_fade_sooner() -> None:
    """Eye Contact Lens 2004;30:247: V, direction only."""
    scales = [fade_scale(size) for size in (1.5, 2.0, 3.0, 4.0, 5.0)]
    assert scales == sorted(scales, reverse=True)
    assert len(set(scales)) == len(scales)
    assert fade_scale(5) / fade_scale(1.5) == pytest.approx((55 / 100) ** (3.5 / 4))


def test_the_effect_starts_at_nothing_and_stays_within_bounds() -> None:
    draws = population.draw(Treatment(-3.0, 0.5, 12))
    times = list(np.arange(0.0, 600.0, 7.0))
    none = shares(draws.rates, 0.0, nothing_yet(draws.rates), [], times)
    assert not none.any()
    endless = shares(draws.rates, 0.0, nothing_yet(draws.rates), [Stretch(0, 600)], times)
    assert endless.min() >= 0
    assert endless.max() <= MOST_SHARE


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    worn=st.lists(st.booleans(), min_size=1, max_size=14),
    hours=st.lists(st.floats(0.5, 14), min_size=14, max_size=14),
    left_out=st.integers(0, 13),
    later=st.floats(0, 200),
)
def test_leaving_a_night_out_never_helps(
    worn: list[bool], hours: list[float], left_out: int, later: float
) -> None:
    nights = [Stretch(24.0 * i, 24.0 * i + hours[i]) for i, one in enumerate(worn) if one]
    fewer = [night for i, night in enumerate(nights) if i != left_out % max(1, len(nights))]
    times = [24.0 * len(worn) + later]
    draws = population.draw(Treatment(-3.0, 0.5, 12))
    more, less = (shares(draws.rates, 0.0, nothing_yet(draws.rates), some, times) for some in (nights, fewer))
    assert (more >= less - 1e-12).all()


def test_times_may_be_asked_in_any_order_and_inside_a_night() -> None:
    nights = nightly(5)
    times = [100.0, 3.0, 24.0, 30.5, 8.0, 0.0]
    together = share(nights, *times)
    assert together == pytest.approx([share(nights, time)[0] for time in times])


def test_a_split_night_is_the_whole_night() -> None:
    assert share([Stretch(0, 3), Stretch(3, 8)], 20) == pytest.approx(share([Stretch(0, 8)], 20))


def settled_mean(nights_per_week: float) -> float:
    count = 4000
    rates = Rates(*(np.full(count, float(one[0])) for one in vars(MEDIAN).values()))
    chance = np.random.default_rng(5).random((8, count))
    return float(settled_evening(rates, 9.0, nights_per_week, chance).total.mean())


def simulated_mean(nights: np.ndarray) -> float:
    """Return the mean effect just before the lens goes in, over a long run of nights (True: worn)."""
    stretches = [Stretch(24.0 * i, 24.0 * i + 9) for i in np.flatnonzero(nights)]
    evenings = [stretch.start_h - 1e-6 for stretch in stretches[len(stretches) // 4 :]]
    run = shares(MEDIAN, 0.0, nothing_yet(MEDIAN), stretches, evenings)
    return float(run.mean() * settled_morning(MEDIAN)[0])


@pytest.mark.parametrize("nights_per_week", [3.5, 5.0, 6.5])
def test_a_settled_habit_lies_where_years_of_it_end(nights_per_week: float) -> None:
    nights = np.random.default_rng(6).random(8000) < nights_per_week / 7
    assert settled_mean(nights_per_week) == pytest.approx(simulated_mean(nights), abs=0.05)


@pytest.mark.parametrize(("nights_per_week", "every"), [(7.0, 1), (1.0, 7)])
def test_a_regular_habit_is_exact(nights_per_week: float, every: int) -> None:
    nights = np.arange(400) % every == 0
    assert settled_mean(nights_per_week) == pytest.approx(simulated_mean(nights), abs=1e-6)
