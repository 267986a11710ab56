from datetime import date, timedelta

import pytest

from companion.regimen.plan import EVERY_NIGHT, Clearance, WearPlan

FIRST = date(2026, 10, 1)


@pytest.mark.parametrize("every", [1, 2, 3])
def test_every_nth_night_counts_from_the_first_evening(every: int) -> None:
    plan = WearPlan(every=every)
    worn = [n for n in range(12) if plan.is_wear_night(FIRST + timedelta(days=n), FIRST)]
    assert worn == list(range(0, 12, every))
    assert plan.share_worn == pytest.approx(1 / every)


def test_before_any_evening_tonight_is_the_first() -> None:
    assert WearPlan(every=3).is_wear_night(FIRST, None)


def test_named_weekdays() -> None:
    plan = WearPlan(weekdays=frozenset({0, 2}))
    monday = date(2026, 10, 5)
    assert [plan.is_wear_night(monday + timedelta(days=n), FIRST) for n in range(7)] == [
        True, False, True, False, False, False, False,
    ]  # fmt: skip
    assert plan.share_worn == pytest.approx(2 / 7)


def test_every_night_is_the_plan_where_none_is_signed() -> None:
    assert all(EVERY_NIGHT.is_wear_night(FIRST + timedelta(days=n), FIRST) for n in range(5))


def test_a_clearance_covers_its_last_night() -> None:
    clearance = Clearance(may_skip=True, longest_gap_nights=1, until=FIRST)
    assert not clearance.is_over(FIRST)
    assert clearance.is_over(FIRST + timedelta(days=1))
    assert not Clearance(may_skip=True, longest_gap_nights=1).is_over(date(2090, 1, 1))
