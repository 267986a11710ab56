"""Days that matter: never on a skipped night, never outside the clearance, never on a chance that is not good.

Hour 0 is Monday 06:30, when the lens of a settled wearer has just come out; nights go from 21:30 to 06:30.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from settled import settled_state

from companion.fade.course import Stretch
from companion.fade.day_ahead import (
    NO_LEAVE,
    SHORTEST_NIGHT_H,
    CheckTime,
    ComingNight,
    DayAhead,
    EyeNow,
    Leave,
    Note,
    Window,
    day_ahead,
)
from companion.fade.filter import follow
from companion.fade.outlook import GOOD_CHANCE, Target, chances_of
from companion.fade.population import Treatment, draw

TARGET = Target(0.2)
FREE = Leave(may_skip=True, longest_gap_nights=1)
FEW = np.arange(0, 1000, 5)


def eye(baseline_d: float) -> EyeNow:
    draws = draw(Treatment(baseline_d, 0.5, 12)).picked(FEW)
    return EyeNow(draws, settled_state(draws, 9.0))


LOW, MIDDLE, HIGH = eye(-1.0), eye(-2.0), eye(-4.0)


def clock(day: int, hour: float) -> float:
    """Hours from the origin to an hour of a day; 0 is Monday."""
    return 24.0 * day + hour - 6.5


def nights(count: int, free: Sequence[int] = (), target_hour: float | None = None) -> list[ComingNight]:
    return [
        ComingNight(
            clock(day, 21.5),
            clock(day + 1, 6.5),
            day not in free,
            None if target_hour is None else clock(day + 1, target_hour),
        )
        for day in range(count)
    ]


SATURDAY = Window(clock(5, 9), clock(5, 17))


def off(found: DayAhead, count: int) -> list[int]:
    return [place for place in range(count) if place not in found.wear]


def chance_on(who: EyeNow, worn: Sequence[int], day: Window, count: int) -> float:
    """The worst chance of the day, by the filter alone."""
    stretches = [Stretch(one.start_h, one.end_h) for place, one in enumerate(nights(count)) if place in worn]
    times = np.arange(day.from_h, day.to_h + 0.5).tolist()
    found = follow(who.draws, who.state, stretches, (), times)
    return float(chances_of(who.draws, found.residual_d, found.spread_d, TARGET).min())


def test_a_low_treatment_may_leave_a_night_free_but_not_the_one_before() -> None:
    found = day_ahead([LOW], nights(5), SATURDAY, TARGET, FREE)
    assert found.last_free == 3
    assert found.wear == (0, 1, 2, 4)
    assert found.chance == pytest.approx(chance_on(LOW, found.wear, SATURDAY, 5), abs=1e-9)
    assert found.chance >= GOOD_CHANCE
    assert [one.at_h for one in found.moments] == [clock(5, hour) for hour in range(9, 18)]
    assert set(found.notes) == {Note.WEAR_THE_NIGHT_BEFORE, Note.GLASSES_AT_HAND}


def test_nothing_is_free_without_a_clearance() -> None:
    found = day_ahead([LOW], nights(5), SATURDAY, TARGET)
    assert found.last_free is None
    assert found.wear == (0, 1, 2, 3, 4)
    assert Note.NOT_CLEARED in found.notes
    assert found == day_ahead([LOW], nights(5), SATURDAY, TARGET, NO_LEAVE)


def test_a_high_treatment_keeps_every_night_and_the_practice_is_asked() -> None:
    found = day_ahead([HIGH], nights(5), SATURDAY, TARGET, FREE)
    assert found.last_free is None
    assert found.wear == (0, 1, 2, 3, 4)
    assert {Note.BELOW_TARGET, Note.NO_FREE_NIGHT, Note.GLASSES_AT_HAND} <= set(found.notes)
    assert {one.when for one in found.checks} == {CheckTime.EVENING_BEFORE, CheckTime.MORNING_ITSELF}


@settings(max_examples=80, deadline=None, derandomize=True)
@given(
    free=st.sets(st.integers(0, 6)),
    may_skip=st.booleans(),
    longest=st.integers(0, 3),
    nights_off=st.integers(0, 3),
    until_day=st.integers(-1, 8),
    day=st.integers(1, 7),
    also=st.sets(st.integers(1, 7), max_size=2),
)
def test_the_clearance_is_never_exceeded_and_the_night_before_is_always_worn(
    free: set[int], may_skip: bool, longest: int, nights_off: int, until_day: int, day: int, also: set[int]
) -> None:
    leave = Leave(may_skip, longest, nights_off, clock(until_day, 23))
    days = [Window(clock(one, 9), clock(one, 17)) for one in (day, *sorted(also - {day}))]
    coming = nights(7, sorted(free))
    found = day_ahead([LOW], coming, days[0], TARGET, leave, also=days[1:])
    assert day - 1 in found.wear
    assert all(one - 1 in found.wear for one in also if one <= day)
    if found.last_free is None:
        return
    assert may_skip
    assert found.last_free <= until_day
    assert found.last_free not in {day - 1, *(one - 1 for one in also)}
    kept_off = set(free) - {one - 1 for one in (day, *also)} | {found.last_free}
    last = max(one - 1 for one in (day, *also))
    row = [*[True] * nights_off, *(place in kept_off for place in range(last + 1))]
    place = 0
    for is_off, run in groupby(row):
        length = len(list(run))
        if is_off and place <= found.last_free + nights_off < place + length:
            assert length <= longest
        place += length
    assert found.chance >= GOOD_CHANCE


@pytest.mark.parametrize("who", [LOW, MIDDLE, HIGH])
def test_no_later_night_could_have_been_free(who: EyeNow) -> None:
    found = day_ahead([who], nights(6), Window(clock(6, 9), clock(6, 17)), TARGET, FREE)
    day = Window(clock(6, 9), clock(6, 17))
    could = [
        night
        for night in range(5)
        if chance_on(who, [place for place in range(6) if place != night], day, 6) >= GOOD_CHANCE
    ]
    assert found.last_free == max(could, default=None)


def test_the_gap_counts_the_nights_that_are_already_off() -> None:
    tomorrow = Window(clock(2, 9), clock(2, 17))
    for nights_off, last_free in ((0, 0), (1, None)):
        leave = replace(FREE, nights_off=nights_off)
        assert day_ahead([LOW], nights(2), tomorrow, TARGET, leave).last_free == last_free


def test_a_night_whose_own_day_would_not_hold_is_not_free() -> None:
    """The everyday target falls long after midnight: too far from the lens for one night off."""
    late = [replace(one, target_h=one.end_h + 23.0) for one in nights(5)]
    assert day_ahead([LOW], late, SATURDAY, TARGET, FREE).last_free is None
    easy = day_ahead([LOW], nights(5, target_hour=12.0), SATURDAY, TARGET, FREE)
    assert easy.last_free == 3


def test_the_plan_may_leave_the_night_before_free_and_the_practice_should_say() -> None:
    found = day_ahead([LOW], nights(5, free=[2, 4]), SATURDAY, TARGET)
    assert found.wear == (0, 1, 3, 4)
    assert Note.NIGHT_BEFORE_FREE_BY_PLAN in found.notes


def test_other_days_that_matter_keep_their_nights() -> None:
    friday = Window(clock(4, 9), clock(4, 12))
    found = day_ahead([LOW], nights(5), SATURDAY, TARGET, FREE, also=[friday])
    assert found.last_free == 2
    assert {3, 4} <= set(found.wear)
    sunday = Window(clock(6, 9), clock(6, 12))
    found = day_ahead([LOW], nights(6), SATURDAY, TARGET, FREE, also=[sunday])
    assert found.last_free == 3
    assert found.wear == (0, 1, 2, 4)


def test_a_day_of_two_days_keeps_the_night_inside_it() -> None:
    weekend = Window(clock(5, 9), clock(6, 17))
    found = day_ahead([LOW], nights(7), weekend, TARGET, FREE)
    assert {4, 5} <= set(found.wear)
    assert found.last_free == 3
    times = [one.at_h for one in found.moments]
    assert not any(clock(5, 21.5) < hour < clock(6, 6.5) for hour in times)


@pytest.mark.parametrize(
    ("day", "wear", "ends"),
    [
        # a party: the lens goes in after it, the night before is the one before
        (Window(clock(3, 22), clock(4, 0.5)), (0, 1, 2), None),
        # an early train: the lens comes out for it
        (Window(clock(3, 5), clock(3, 8)), (0, 1, 2), clock(3, 5)),
        # a ball until the morning: nothing is left of that night
        (Window(clock(3, 23), clock(4, 6)), (0, 1, 2), None),
    ],
)
def test_a_day_that_reaches_into_a_night_shortens_it(
    day: Window, wear: tuple[int, ...], ends: float | None
) -> None:
    found = day_ahead([LOW], nights(4), day, TARGET)
    assert found.wear == wear
    assert (found.moments[0].at_h, found.moments[-1].at_h) == (day.from_h, day.to_h)
    if ends is not None:
        stretches = [Stretch(one.start_h, min(one.end_h, ends)) for one in nights(3)]
        alone = follow(LOW.draws, LOW.state, stretches, (), [day.from_h])
        chance = chances_of(LOW.draws, alone.residual_d, alone.spread_d, TARGET)[0]
        assert found.moments[0].chance == pytest.approx(chance, abs=1e-9)


def test_a_night_too_short_for_the_model_is_none() -> None:
    short = [*nights(4), ComingNight(clock(4, 21.5), clock(4, 21.5) + SHORTEST_NIGHT_H - 0.5)]
    assert day_ahead([LOW], short, SATURDAY, TARGET).wear == (0, 1, 2, 3)


def test_the_check_is_on_the_morning_unless_there_is_no_time_for_it() -> None:
    (check,) = day_ahead([LOW], nights(5), SATURDAY, TARGET).checks
    assert (check.when, check.at_h) == (CheckTime.MORNING_ITSELF, clock(5, 6.5))
    early = Window(clock(5, 7), clock(5, 12))
    (check,) = day_ahead([LOW], nights(5), early, TARGET).checks
    assert (check.when, check.at_h) == (CheckTime.EVENING_BEFORE, clock(4, 21.5))


def test_a_day_with_no_night_before_it_left_rests_on_what_was_worn() -> None:
    today = Window(clock(0, 9), clock(0, 17))
    found = day_ahead([LOW], nights(3), today, TARGET, FREE)
    assert found.wear == ()
    assert Note.NO_NIGHT_LEFT in found.notes
    assert found.chance == pytest.approx(chance_on(LOW, (), today, 3), abs=1e-9)
    (check,) = found.checks
    assert (check.when, check.at_h) == (CheckTime.MORNING_ITSELF, 0.0)


def test_a_day_under_way_is_looked_at_from_now_on() -> None:
    today = Window(clock(0, 5), clock(0, 8))
    assert [one.at_h for one in day_ahead([LOW], nights(1), today, TARGET).moments] == [0.5, 1.5]


def test_a_night_under_way_is_worn_and_never_free() -> None:
    now = EyeNow(LOW.draws, replace(LOW.state, at_h=clock(0, 23)))
    found = day_ahead([now], nights(2), Window(clock(2, 9), clock(2, 17)), TARGET, FREE)
    assert found.last_free is None
    assert found.wear == (0, 1)


def test_driving_is_not_judged() -> None:
    found = day_ahead([LOW], nights(5), replace(SATURDAY, driving=True), TARGET, FREE)
    assert Note.DRIVING_NOT_JUDGED in found.notes
    assert Note.GLASSES_AT_HAND in found.notes
    assert 4 in found.wear


def test_two_eyes_count_each_or_the_better_one() -> None:
    each, better = (
        day_ahead([LOW, HIGH], nights(5), SATURDAY, TARGET, FREE, better_eye=one) for one in (False, True)
    )
    assert each.last_free is None
    assert better.last_free == 3
    for one in each.moments:
        assert one.chance == min(eye.chance for eye in one.eyes)
    for one in better.moments:
        assert one.chance == max(eye.chance for eye in one.eyes)
