"""After a night without the lens. Hour 0: the lens of a settled wearer came out; the next goes in 39 h later."""

from dataclasses import replace

import numpy as np
import pytest
from settled import settled_state

from companion.fade.course import Stretch
from companion.fade.day_ahead import ComingNight, EyeNow
from companion.fade.filter import follow
from companion.fade.missed_night import LONG_BREAK_NIGHTS, AfterMissed, Todo, after_missed_night
from companion.fade.outlook import GOOD_CHANCE, Target, chances_of
from companion.fade.population import Treatment, draw
from companion.tonight import answer

TARGET = Target(0.2)
WOKE, TARGET_H, BED = 24.0, 35.5, 39.0
NIGHTS = [
    ComingNight(BED + 24.0 * day, BED + 24.0 * day + 9, target_h=BED + 24.0 * day + 20.5) for day in range(7)
]


def eye(baseline_d: float, hours_off: float = WOKE) -> EyeNow:
    draws = draw(Treatment(baseline_d, 0.5, 12))
    return EyeNow(draws, follow(draws, settled_state(draws, 8.0), (), until_h=hours_off).state)


def after(baseline_d: float, nights_off: int = 1) -> AfterMissed:
    return after_missed_night([eye(baseline_d)], NIGHTS, TARGET, TARGET_H, nights_off=nights_off)


@pytest.mark.parametrize(
    ("baseline_d", "low", "high"),
    [
        (-3.0, -1.4, -0.5),  # INF: one night left out, the next evening
        (-1.0, -0.4, 0.1),  # INF: the same at 1 D
    ],
)
def test_the_evening_after_a_missed_night(baseline_d: float, low: float, high: float) -> None:
    moments = {one.at_h: one for one in after(baseline_d).moments}
    assert low <= moments[38.0].eyes[0].refraction_d.p50 <= high


def test_sight_only_goes_down_until_the_lens_is_in_again() -> None:
    found = after(-2.0)
    assert [one.at_h for one in found.moments] == [WOKE + hour for hour in range(16)]
    medians = [one.eyes[0].acuity_logmar.p50 for one in found.moments]
    assert medians == sorted(medians)
    chances = [one.chance for one in found.moments]
    assert chances == sorted(chances, reverse=True)


def test_the_glasses_are_for_those_who_need_them() -> None:
    high, low = after(-3.0), after(-1.0)
    assert high.good_until_h is None
    assert Todo.GLASSES in high.todo
    assert low.good_until_h is not None
    held = [one.at_h for one in low.moments if one.chance >= GOOD_CHANCE]
    assert low.good_until_h == held[-1]
    assert (Todo.GLASSES in low.todo) == (low.good_until_h < TARGET_H)


@pytest.mark.parametrize("baseline_d", [-1.0, -4.0])
def test_driving_blurred_is_always_warned_of_and_no_night_is_made_longer(baseline_d: float) -> None:
    todo = after(baseline_d).todo
    assert Todo.NO_DRIVING_IF_BLURRED in todo
    assert {Todo.WEAR_TONIGHT, Todo.NOT_LONGER_THAN_USUAL, Todo.DISINFECT_BY_LABEL} <= set(todo)


def test_after_a_long_break_the_clinic_is_asked_and_nobody_is_told_to_wear() -> None:
    todo = after(-1.0, nights_off=LONG_BREAK_NIGHTS).todo
    assert Todo.ASK_CLINIC in todo
    assert Todo.WEAR_TONIGHT not in todo
    assert LONG_BREAK_NIGHTS == answer.LONG_BREAK_NIGHTS


def test_a_night_that_the_plan_leaves_free_stays_free() -> None:
    nights = [replace(NIGHTS[0], planned=False), *NIGHTS[1:]]
    found = after_missed_night([eye(-1.0)], nights, TARGET, TARGET_H)
    assert Todo.WEAR_TONIGHT not in found.todo


def test_when_the_everyday_target_holds_again() -> None:
    """Weeks without the lens, then every night: the first day that is good by the filter alone."""
    who = eye(-1.0, hours_off=24.0 * 20)
    nights = [ComingNight(24.0 * day, 24.0 * day + 8, target_h=24.0 * day + 15) for day in range(20, 34)]
    found = after_missed_night([who], nights, TARGET, 24.0 * 20, nights_off=20)
    stretches = [Stretch(one.start_h, one.end_h) for one in nights]
    ahead = follow(who.draws, who.state, stretches, (), [one.target_h or 0.0 for one in nights])
    good = chances_of(who.draws, ahead.residual_d, ahead.spread_d, TARGET) >= GOOD_CHANCE
    assert found.good_again == int(np.argmax(good)) > 0
    never = after_missed_night([eye(-5.0)], NIGHTS, TARGET, TARGET_H)
    assert never.good_again is None


def test_two_eyes_count_each_or_the_better_one() -> None:
    eyes = [eye(-1.0), eye(-3.0)]
    each, better = (after_missed_night(eyes, NIGHTS, TARGET, TARGET_H, better_eye=one) for one in (False, True))
    for smallest, largest in zip(each.moments, better.moments, strict=True):
        assert smallest.chance == min(one.chance for one in smallest.eyes)
        assert largest.chance == max(one.chance for one in largest.eyes)
