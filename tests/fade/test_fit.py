"""The personal fit: what it learns, what it owns up to, and that it is the same every time."""

from collections.abc import Sequence

import numpy as np
import pytest

from companion.fade.band import band, chance_to_meet
from companion.fade.course import Stretch
from companion.fade.filter import follow, started
from companion.fade.fit import Case, FellBack, Fit, fit, fit_together
from companion.fade.hindsight import Foretold, sight_checks
from companion.fade.observation import Reading, RefractionReading, SightReading
from companion.fade.parameters import FREE
from companion.fade.population import COUNT, Draws, Treatment, draw, drawn_at
from companion.fade.sampling import effective, evenly, weights_of
from companion.fade.sight import acuity
from companion.fade.stores import nothing_yet

CHILD = Treatment(-2.5, 0.5, 10)
NIGHTS = [Stretch(24.0 * night, 24.0 * night + 8.5) for night in range(28)]
END_H = 28 * 24.0 - 3


def case(readings: Sequence[Reading], treatment: Treatment = CHILD, nights: Sequence[Stretch] = NIGHTS) -> Case:
    def start(draws: Draws):  # type: ignore[no-untyped-def]
        return started(draws, 0.0, nothing_yet(draws.rates), settled=False)

    return Case(treatment, start, nights, sorted(readings, key=lambda one: one.at_h), END_H)


def simulated(seed: int, treatment: Treatment = CHILD, every: int = 1) -> tuple[list[Reading], float]:
    """Return evening checks of an eye of the model's own kind, and its refraction [D] at the end."""
    rng = np.random.default_rng(seed)
    eye = drawn_at(treatment, rng.standard_normal((len(FREE), 1)))
    times = [24.0 * night + 20.0 for night in range(1, 28, every)]
    start = started(eye, 0.0, nothing_yet(eye.rates), settled=False)
    residual = follow(eye, start, NIGHTS, (), [*times, END_H]).residual_d[:, 0]
    noise = 0.12 * rng.standard_normal(len(times))
    readings: list[Reading] = [
        SightReading(at, float(acuity(eye, np.array([d]))[0]) + off)
        for at, d, off in zip(times, residual[:-1], noise, strict=True)
    ]
    return readings, float(residual[-1])


def at_end(found: Fit) -> np.ndarray:
    now = follow(found.draws, found.state, NIGHTS, (), [END_H])
    return np.asarray(now.residual_d[0] + now.spread_d[0] * found.draws.score)


def test_without_readings_it_is_the_population() -> None:
    found = fit(case([]))
    assert found.learned == pytest.approx(0.0, abs=1e-9)
    assert not found.is_personal
    assert found.fell_back is None
    assert np.mean(found.draws.gain) == pytest.approx(np.mean(draw(CHILD).gain), abs=0.01)
    assert np.std(found.draws.gain) == pytest.approx(np.std(draw(CHILD).gain), rel=0.08)


def test_the_same_record_gives_the_same_fit() -> None:
    readings, _ = simulated(3)
    one, two = fit(case(readings)), fit(case(readings))
    np.testing.assert_array_equal(one.draws.gain, two.draws.gain)
    np.testing.assert_array_equal(one.state.values, two.state.values)


def test_refractions_are_believed_more_the_more_there_are() -> None:
    """Three refractions of -1.00 D: the middle of the belief moves there and narrows, past what the prior says."""
    readings = [RefractionReading(24.0 * night + 20.0, -1.0) for night in (10, 17, 26)]
    few, many = at_end(fit(case(readings[:1]))), at_end(fit(case(readings)))
    before = at_end(fit(case([])))
    assert abs(np.median(many) + 1.0) < abs(np.median(few) + 1.0) < abs(np.median(before) + 1.0)
    assert np.std(many) < np.std(few) < np.std(before)
    assert np.median(many) == pytest.approx(-1.0, abs=0.15)


def test_bands_of_the_models_own_eyes_hold_the_truth() -> None:
    """Seeds 0 to 59, a 90 % band of the refraction: 54 expected, 47 or more in 99.8 % of all runs (binomial)."""
    inside = 0
    for seed in range(60):
        readings, truth = simulated(seed, every=2)
        p05, _, p95 = (float(one[0]) for one in band(at_end(fit(case(readings)))[None]))
        inside += p05 <= truth <= p95
    assert inside >= 47, f"{inside} of 60"


def test_what_was_foretold_falls_evenly() -> None:
    """Seeds 0 to 39, the model's own eyes: each reading by those before it. Shares of 520 in each quarter."""
    chances = [
        one.chance for seed in range(40) for one in sight_checks(fit(case(simulated(seed, every=2)[0])).foretold)
    ]
    shares = np.histogram(chances, bins=4, range=(0, 1))[0] / len(chances)
    assert shares == pytest.approx([0.25] * 4, abs=0.075)


def test_a_place_from_before_saves_the_search_and_changes_little() -> None:
    readings, _ = simulated(5)
    cold = fit(case(readings[:-1]))
    warm, again = fit(case(readings), cold.place), fit(case(readings))
    assert warm.place is cold.place
    assert np.median(at_end(warm)) == pytest.approx(np.median(at_end(again)), abs=0.1 * np.std(at_end(again)))
    assert np.std(at_end(warm)) == pytest.approx(np.std(at_end(again)), rel=0.1)


def test_a_place_that_is_no_longer_good_is_looked_for_anew() -> None:
    far = fit(case([RefractionReading(24.0 * night + 20.0, 0.9) for night in range(3, 28)])).place
    got = fit(case([RefractionReading(24.0 * night + 20.0, -1.8) for night in range(3, 28)]), far)
    assert got.place is not far
    assert np.median(at_end(got)) == pytest.approx(-1.8, abs=0.2)


def wild(seed: int = 0) -> list[Reading]:
    rng = np.random.default_rng(seed)
    return [
        SightReading(24.0 * night + 20.0, float((0.0, 1.3)[night % 2] + rng.normal(0, 0.05)))
        for night in range(1, 28)
    ]


def test_readings_that_contradict_each_other_are_set_aside_and_the_band_is_wider() -> None:
    found = fit(case(wild()))
    assert found.fell_back is FellBack.CONTRADICTORY
    assert not found.is_personal
    assert np.std(at_end(found)) > 1.1 * np.std(at_end(fit(case([]))))


def test_the_models_own_eyes_do_not_contradict_themselves() -> None:
    """Seeds 100 to 139."""
    assert not [seed for seed in range(100, 140) if fit(case(simulated(seed)[0])).fell_back is not None]


def test_old_readings_are_set_aside() -> None:
    nights = [Stretch(24.0 * night, 24.0 * night + 8.5) for night in range(100)]
    readings = [one for one in simulated(1)[0] if one.at_h < 300]
    one = case(readings, nights=nights)
    late = Case(one.treatment, one.start, nights, one.readings, 24.0 * 90)
    assert fit(late).fell_back is FellBack.STALE
    assert fit(one).fell_back is None


def test_an_eye_learns_from_its_fellow() -> None:
    rich = [RefractionReading(24.0 * night + 20.0, -1.2) for night in range(5, 28, 2)]
    alone = fit(case([]))
    together = fit_together({"right": case(rich), "left": case([])})["left"]
    assert np.median(at_end(together)) < np.median(at_end(alone)) - 0.2
    assert np.std(at_end(together)) < np.std(at_end(alone))
    assert together.learned > 0.1


def test_an_eye_learns_nothing_from_a_fellow_that_contradicts_itself() -> None:
    together = fit_together({"right": case(wild()), "left": case([])})["left"]
    np.testing.assert_array_equal(together.draws.gain, fit(case([])).draws.gain)


def test_one_eye_alone_is_the_same_with_and_without_the_pair() -> None:
    readings, _ = simulated(2)
    np.testing.assert_array_equal(
        fit_together({"left": case(readings)})["left"].draws.gain, fit(case(readings)).draws.gain
    )


def test_personal_needs_checks_that_are_recent_and_have_taught_something() -> None:
    readings, _ = simulated(4)
    assert fit(case(readings)).is_personal
    assert not fit(case(readings[:5])).is_personal
    found = fit(case(readings))
    assert len(found.foretold) == len(readings)
    assert all(isinstance(one, Foretold) for one in found.foretold)
    assert found.effective > 200


def test_the_chance_without_dice_is_the_chance_with_them() -> None:
    found = fit(case(simulated(6)[0]))
    got = follow(found.draws, found.state, NIGHTS, (), [END_H, END_H + 30])
    exact = chance_to_meet(found.draws, got.residual_d, got.spread_d, 0.2)
    strayed = got.residual_d + got.spread_d * found.draws.score
    assert exact == pytest.approx(np.mean(acuity(found.draws, strayed) <= 0.2, axis=-1), abs=0.03)


def test_weights_and_the_draws_kept_by_them() -> None:
    weights = weights_of(np.log(np.array([1.0, 2.0, 1.0])))
    assert weights == pytest.approx([0.25, 0.5, 0.25])
    assert effective(weights) == pytest.approx(1 / 0.375)
    many = np.full(COUNT, 1.0)
    many[: COUNT // 2] = 3.0
    kept = evenly(weights_of(np.log(many)))
    assert np.mean(kept < COUNT // 2) == pytest.approx(0.75, abs=0.002)
