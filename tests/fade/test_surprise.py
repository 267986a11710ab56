"""Sight that the nights do not explain, and which check would teach most."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from companion.fade.hindsight import Foretold, contradict
from companion.fade.next_check import WORTH_ASKING, swing, worth_asking
from companion.fade.observation import RefractionReading, SightReading
from companion.fade.population import COUNT, Treatment, draw
from companion.fade.surprise import chance_of_too_much_plus, may_be_swapped, worse_than_explained


def check(at_h: float, logmar: float, chance: float, expected: float = 0.1) -> Foretold:
    return Foretold(SightReading(at_h, logmar), expected, chance)


GOOD = [check(24.0 * day, 0.1, 0.5) for day in range(10)]


def test_two_checks_of_the_last_three_beyond_the_band_raise_the_flag_and_say_how_far() -> None:
    found = worse_than_explained([*GOOD, check(250, 0.5, 0.99), check(260, 0.1, 0.5), check(270, 0.4, 0.97)], 271)
    assert found is not None
    assert (found.checks, found.looked_at) == (2, 3)
    assert found.worse_logmar == pytest.approx(0.35)


@pytest.mark.parametrize(
    ("why", "last", "now_h"),
    [
        ("one check is no pattern", [check(250, 0.6, 0.999)], 251),
        ("the last one is as foretold", [check(240, 0.5, 0.99), check(250, 0.5, 0.99), check(260, 0.1, 0.4)], 261),
        ("better is no surprise", [check(250, -0.3, 0.01), check(260, -0.3, 0.01)], 261),
        ("less than a line", [check(250, 0.18, 0.96), check(260, 0.18, 0.96)], 261),
        ("weeks ago", [check(250, 0.6, 0.999), check(260, 0.6, 0.999)], 260 + 24 * 11),
        ("refractions are the practice's own", [Foretold(RefractionReading(250, -2.0), 0.0, 0.999)] * 2, 251),
    ],
)
def test_no_flag(why: str, last: list[Foretold], now_h: float) -> None:
    assert worse_than_explained([*GOOD, *last], now_h) is None, why


def test_lenses_that_may_be_swapped() -> None:
    """CALC: the -3 D eye in the -2 D lens keeps -1 D; the -2 D eye in the other has +1 D, which it clears."""
    as_foretold, worse = [check(250, 0.1, 0.4)] * 3, [check(250, 0.6, 0.99)] * 3
    assert may_be_swapped(3.5, as_foretold, 2.5)
    assert not may_be_swapped(3.5, worse, 2.5), "both worse: not a swap"
    assert not may_be_swapped(2.5, as_foretold, 3.5), "the eye that needs less would not be worse"
    assert not may_be_swapped(3.5, as_foretold, 3.25), "lenses too much alike to tell"
    assert not may_be_swapped(3.5, [], 2.5), "nothing is known of the other eye"


def test_too_much_plus_is_a_chance_about_refraction_not_sight() -> None:
    residual, spread = np.array([[0.5, 1.5]]), np.array([[0.25, 0.25]])
    assert chance_of_too_much_plus(residual, spread)[0] == pytest.approx(
        np.mean(norm.sf(1.0, loc=[0.5, 1.5], scale=0.25)), abs=1e-9
    )


def test_contradiction_needs_several_far_readings_among_enough() -> None:
    far, near = check(1, 1.0, 0.999), check(1, 0.1, 0.5)

    def said(*chances: Foretold, every_h: float = 24.0, now_h: float = 800.0) -> bool:
        start = now_h - every_h * len(chances)
        times = [start + every_h * place for place in range(len(chances))]
        pairs = zip(chances, times, strict=True)
        return contradict([replace(one, reading=replace(one.reading, at_h=at)) for one, at in pairs], now_h)

    assert said(*[near] * 8, *[far] * 4)
    assert not said(*[near] * 9, *[far] * 3)
    assert not said(*[far] * 5), "too few to say"
    assert said(*[far] * 6, *[near] * 12), "a calm fortnight clears nothing"
    assert not said(*[far] * 6, *[near] * 33), "a month does"
    assert not said(*[far] * 12, every_h=0.1), "one check, taken twelve times"


def test_a_refraction_far_to_minus_refutes_by_itself() -> None:
    visit = Foretold(RefractionReading(700.0, -2.5), 0.0, 0.001)
    assert contradict([visit], 710.0)
    assert not contradict([replace(visit, chance=0.01)], 710.0)
    assert not contradict([visit], 710.0 + 24 * 31)


# -- the next check ----------------------------------------------------------------------------------------------
def moved(residual_d: float, spread_d: float, target: float = 0.2, noise: float = 0.07) -> float:
    draws = draw(Treatment(-3.0, 0.5, 30, best_acuity_logmar=0.0))
    at = np.full(COUNT, residual_d), np.full(COUNT, spread_d)
    return swing(draws, at, at, SightReading(0, 0, noise), target)


def test_a_check_teaches_most_where_the_answer_is_open() -> None:
    assert moved(-0.5, 0.4) > 2 * moved(1.0, 0.2)
    assert moved(-0.5, 0.4) > 2 * moved(-3.0, 0.2)
    assert moved(1.0, 0.1) == pytest.approx(0.0, abs=0.01)


def test_a_sharper_check_teaches_more_and_none_more_than_there_is() -> None:
    sharp, blunt = moved(-0.5, 0.4, noise=0.03), moved(-0.5, 0.4, noise=0.4)
    assert 0 < blunt < sharp <= 0.5


def test_only_a_check_worth_a_minute_is_asked_for() -> None:
    assert worth_asking({"this_evening": 0.2, "tomorrow_morning": 0.1}) == "this_evening"
    assert worth_asking({"this_evening": 0.5 * WORTH_ASKING}) is None
    assert worth_asking({}) is None
