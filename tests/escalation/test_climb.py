"""H2, an alert nobody sees: who is told when, what stops the climb, what the family hears."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.escalation.climb import AlertTimes, ClimbPlan, DoneStep, FamilyNews, due_steps, family_told
from companion.escalation.duty import OpeningHours

BERLIN = ZoneInfo("Europe/Berlin")
RAISED = datetime(2026, 10, 5, 15, 0, tzinfo=UTC)  # Monday, 17:00 at the practice
HOURS = OpeningHours.from_plain({day: [["08:00", "18:00"]] for day in ("mon", "tue", "wed", "thu", "fri")})
PEOPLE = ("anna", "ben", "owner")
PLAN = ClimbPlan.usual(PEOPLE, 60, HOURS, BERLIN)


def after(minutes: float) -> datetime:
    return RAISED + timedelta(minutes=minutes)


def run(
    alert: AlertTimes, until: int, plan: ClimbPlan = PLAN, every: int = 1
) -> list[tuple[int, int, tuple[str, ...]]]:
    """Let a worker look every few minutes; return (minute, step, people) as they were told."""
    done: list[DoneStep] = []
    told = []
    for minute in range(0, until + 1, every):
        for step in due_steps(alert, done, plan, after(minute)):
            told.append((minute, step.number, step.person_ids))
            done.append(DoneStep(step.number, after(minute)))
    return told


# Safety guidance 6.2: level 5 within 5 min then next person then owner; 4 at 15 and 30 min; 3 after 2 open hours.
CLIMBS = [
    (5, [(0, 0, ("anna",)), (5, 1, ("ben",)), (10, 2, PEOPLE)]),
    (4, [(0, 0, ("anna",)), (15, 1, ("ben",)), (30, 2, PEOPLE)]),
    (3, [(0, 0, ("anna",)), (900 + 60, 1, PEOPLE)]),  # 60 min until 18:00, the other 60 from 08:00 next day
    (2, []),
    (1, []),
]


@pytest.mark.parametrize(("level", "told"), CLIMBS)
def test_H2_an_alert_nobody_takes_climbs_to_everybody(level: int, told: list[object]) -> None:
    assert run(AlertTimes(level, RAISED), 2000, every=5)[: len(told)] == told
    assert told or run(AlertTimes(level, RAISED), 2000, every=5) == []


def test_H2_at_the_top_everybody_hears_again_until_somebody_takes_it() -> None:
    told = run(AlertTimes(4, RAISED), 150)
    assert told[3:] == [(60, 3, PEOPLE), (90, 4, PEOPLE), (120, 5, PEOPLE), (150, 6, PEOPLE)]
    done = [DoneStep(number, after(minute)) for minute, number, _ in told]
    assert due_steps(AlertTimes(4, RAISED, taken_at=after(151)), done, PLAN, after(210)) == ()


def test_H2_level_3_repeats_in_open_hours_and_when_the_practice_opens() -> None:
    raised = after(-100)  # 15:20 at the practice: the last step is due 17:20
    done = [DoneStep(0, raised), DoneStep(1, after(55))]  # it was done late, at 17:55
    alert = AlertTimes(3, raised)
    assert due_steps(alert, done, PLAN, after(300)) == ()
    assert due_steps(alert, done, PLAN, after(899)) == ()
    (again,) = due_steps(alert, done, PLAN, after(900))  # 08:00 the next morning
    assert (again.number, again.person_ids) == (2, PEOPLE)
    done.append(DoneStep(2, after(900)))
    assert due_steps(alert, done, PLAN, after(929)) == ()
    assert [step.number for step in due_steps(alert, done, PLAN, after(930))] == [3]


def test_H2_a_worker_that_slept_owes_one_repeat() -> None:
    done = [DoneStep(0, RAISED), DoneStep(1, after(15)), DoneStep(2, after(30))]
    assert [step.number for step in due_steps(AlertTimes(4, RAISED), done, PLAN, after(600))] == [3]


def test_H2_an_opening_practice_hears_at_once() -> None:
    done = [DoneStep(0, RAISED), DoneStep(1, after(15)), DoneStep(2, after(890))]
    assert due_steps(AlertTimes(4, RAISED), done, PLAN, after(899)) == ()
    assert [step.person_ids for step in due_steps(AlertTimes(4, RAISED), done, PLAN, after(900))] == [PEOPLE]


def test_H2_taken_without_contact_repeats_at_the_top_too() -> None:
    taken = AlertTimes(4, RAISED, taken_at=after(20))
    done = [DoneStep(0, RAISED), *(DoneStep(number, after(60 + 20 * number)) for number in (1, 2, 3))]
    assert due_steps(taken, done, PLAN, after(149)) == ()
    assert [step.number for step in due_steps(taken, done, PLAN, after(150))] == [4]


def test_H2_an_alert_raised_by_time_climbs_again_from_its_first_step() -> None:
    done = [DoneStep(0, RAISED)]
    raised = AlertTimes(4, after(60))
    assert [(s.number, s.person_ids) for s in due_steps(raised, done, PLAN, after(60))] == [(1, ("anna",))]


def test_H2_a_worker_that_slept_misses_no_step() -> None:
    told = run(AlertTimes(4, RAISED), 75, every=50)
    assert told == [(0, 0, ("anna",)), (50, 1, ("ben",)), (50, 2, PEOPLE)]


def test_H2_only_taken_stops_the_climb() -> None:
    taken = AlertTimes(4, RAISED, taken_at=after(10))
    assert due_steps(taken, [DoneStep(0, RAISED)], PLAN, after(69)) == ()


def test_H2_taken_without_contact_climbs_again() -> None:
    taken = AlertTimes(4, RAISED, taken_at=after(20))
    done = [DoneStep(0, RAISED), DoneStep(1, after(15))]
    assert due_steps(taken, done, PLAN, after(79)) == ()
    (first,) = due_steps(taken, done, PLAN, after(80))
    assert (first.number, first.person_ids) == (2, ("anna",)), "from the first step, with numbers that go on"
    done.append(DoneStep(2, after(80)))
    assert due_steps(taken, done, PLAN, after(94)) == ()
    assert [step.number for step in due_steps(taken, done, PLAN, after(110))] == [3, 4]
    assert family_told(taken, PLAN, after(79)) is None
    assert family_told(taken, PLAN, after(80)) is FamilyNews.NO_CONTACT_YET


def test_H2_taken_a_second_time_waits_and_climbs_a_third_time() -> None:
    done = [DoneStep(0, RAISED), DoneStep(1, after(80)), DoneStep(2, after(95))]
    again = AlertTimes(4, RAISED, taken_at=after(100))
    assert due_steps(again, done, PLAN, after(159)) == ()
    assert [step.number for step in due_steps(again, done, PLAN, after(160))] == [3]


@pytest.mark.parametrize("level", [3, 4, 5])
def test_H2_contact_or_closing_ends_it_for_good(level: int) -> None:
    for ended in (
        AlertTimes(level, RAISED, taken_at=after(5), contact_at=after(30)),
        AlertTimes(level, RAISED, closed_at=after(30)),
    ):
        assert due_steps(ended, [], PLAN, after(5000)) == ()
        assert family_told(ended, PLAN, after(5000)) is None


# Safety guidance 6.2: at level 4 the family is told at 30 min, at level 3 re-asked at 4 h, at any hour of the day.
NEWS = [
    (5, 9, None),
    (5, 10, FamilyNews.NOBODY_TOOK_IT),
    (4, 29, None),
    (4, 30, FamilyNews.NOBODY_TOOK_IT),
    (3, 239, None),
    (3, 240, FamilyNews.NOBODY_TOOK_IT),
    (2, 5000, None),
]


@pytest.mark.parametrize(("level", "minutes", "news"), NEWS)
def test_H2_the_family_hears_that_nobody_took_it(level: int, minutes: int, news: FamilyNews | None) -> None:
    assert family_told(AlertTimes(level, RAISED), PLAN, after(minutes)) is news


def test_H2_a_practice_without_anybody_to_tell_says_so_at_once() -> None:
    nobody = ClimbPlan.usual((), 60, HOURS, BERLIN)
    assert family_told(AlertTimes(4, RAISED), nobody, RAISED) is FamilyNews.NOBODY_TO_TELL
    assert [step.person_ids for step in due_steps(AlertTimes(4, RAISED), [], nobody, after(40))] == [()] * 3


def test_H2_a_practice_without_hours_climbs_by_real_minutes() -> None:
    no_hours = ClimbPlan.usual(PEOPLE, 60, OpeningHours(), BERLIN)
    told = run(AlertTimes(3, RAISED), 200, no_hours)
    assert told == [(0, 0, ("anna",)), (120, 1, PEOPLE), (150, 2, PEOPLE), (180, 3, PEOPLE)]


def test_H2_no_contact_at_level_3_is_told_in_real_minutes() -> None:
    taken = AlertTimes(3, RAISED, taken_at=after(55))  # five minutes before the practice closes
    assert family_told(taken, PLAN, after(115)) is FamilyNews.NO_CONTACT_YET
    assert due_steps(taken, [DoneStep(0, RAISED)], PLAN, after(115)) == ()
    assert [s.number for s in due_steps(taken, [DoneStep(0, RAISED)], PLAN, after(900 + 55))] == [1]


@pytest.mark.parametrize(
    ("people", "told"),
    [
        (("anna",), [("anna",), ("anna",), ("anna",)]),
        (("anna", "ben"), [("anna",), ("ben",), ("anna", "ben")]),
        (("anna", "ben", "cem", "owner"), [("anna",), ("ben",), ("anna", "ben", "cem", "owner")]),
    ],
)
def test_small_and_large_practices(people: tuple[str, ...], told: list[tuple[str, ...]]) -> None:
    plan = ClimbPlan.usual(people, 60, HOURS, BERLIN)
    assert [step.person_ids for step in due_steps(AlertTimes(5, RAISED), [], plan, after(60))] == told


def test_H13_minutes_are_real_minutes_over_a_clock_change() -> None:
    raised = datetime(2026, 10, 25, 0, 50, tzinfo=UTC)  # 02:50 summer time, ten minutes before the clock goes back
    alert = AlertTimes(4, raised)
    assert due_steps(alert, [DoneStep(0, raised)], PLAN, raised + timedelta(minutes=14)) == ()
    assert len(due_steps(alert, [DoneStep(0, raised)], PLAN, raised + timedelta(minutes=15))) == 1


@settings(max_examples=200, derandomize=True, deadline=None)
@given(
    st.sampled_from([3, 4, 5]),
    st.lists(st.integers(0, 4000), min_size=1, max_size=30),
    st.none() | st.integers(0, 500),
)
def test_H2_each_step_is_done_once_and_everybody_is_told_in_the_end(
    level: int, looks: list[int], taken: int | None
) -> None:
    alert = AlertTimes(level, RAISED, taken_at=None if taken is None else after(taken))
    done: list[DoneStep] = []
    told: set[str] = set()
    for minute in [*sorted(looks), 10_000]:
        for step in due_steps(alert, done, PLAN, after(minute)):
            done.append(DoneStep(step.number, after(minute)))
            told |= set(step.person_ids)
    numbers = [step.number for step in done]
    assert len(numbers) == len(set(numbers))
    assert told == set(PEOPLE)
