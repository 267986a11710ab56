"""The clock under an alert: a worker that sleeps, a clock put forward or back, hours that come twice or never.

What is asked is always the same: nobody is left in silence, and a lease lasts two minutes.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from fake_channels import Answer
from people import ZONE
from processes import Process, dies
from world import START, STEPS, Count, World, said

from companion.common.moments import zone
from companion.escalation.climb import LADDERS, AlertTimes, ClimbPlan, DoneStep, due_steps, family_told
from companion.escalation.duty import OpeningHours
from companion.store.queries.outbox import SKEW
from companion.usecases.sending import LEASE, LONGEST_PAUSE

SECOND, MINUTE, HOUR = timedelta(seconds=1), timedelta(minutes=1), timedelta(hours=1)
LEVELS = (3, 4, 5)
JUMPS = (30 * SECOND, 5 * MINUTE, HOUR, 26 * HOUR)


def mostly_slow(quick: timedelta) -> list[Any]:
    """All jumps; in a quick run one."""
    return [pytest.param(one, id=str(one), marks=[] if one == quick else [pytest.mark.slow]) for one in JUMPS]


def report(world: World, level: int) -> None:
    web = Process(world, "web")
    web.report(said(level, world.clock()))
    web.close()


def kill(world: World, point: str) -> None:
    """Let a worker die at the first point of this name."""
    worker = Process(world, "one", point)
    assert dies(worker.round)
    worker.close()


def steps_of(world: World) -> list[int]:
    return sorted({step.step for _, step in world.rows()})


def all_arrived(world: World) -> bool:
    return world.tally().keys() == {row.id for row, _ in world.rows()}


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("point", ["after the commit of claim", "before mail", "after mail has accepted"])
def test_H2_a_lease_lasts_two_minutes_to_the_second(
    world: World, level: int, point: str, record_property: Count
) -> None:
    world.fresh(level)
    report(world, level)
    kill(world, point)
    assert world.leases() == [LEASE] == [2 * MINUTE]
    held = next(row.id for row, _ in world.rows() if row.lease_until)
    kept = world.tally()[held]
    begun = world.clock()
    for second in (1, 60, 119):
        world.clock.now = begun + second * SECOND
        world.round()
        assert world.tally()[held] == kept
    world.clock.now = begun + LEASE
    world.round()
    assert world.tally()[held] == kept + 1
    assert all_arrived(world)
    record_property("kills", 1)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(
    "hours", [5, pytest.param(1, marks=pytest.mark.slow), pytest.param(30, marks=pytest.mark.slow)]
)
def test_H2_a_worker_that_slept_for_hours_catches_up_at_once(
    world: World, level: int, hours: int, record_property: Count
) -> None:
    """Level 3 counts open hours: its report of nine o'clock has had its 120 minutes after five."""
    world.fresh(level)
    report(world, level)
    world.clock.now += hours * HOUR
    world.round()
    world.round()
    owed = 1 if level == 3 and hours == 1 else len(LADDERS[level].after_minutes)
    assert steps_of(world)[:owed] == list(range(owed))
    assert all_arrived(world)
    assert set(world.tally().values()) == {1}
    record_property("clocks", 1)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("back", mostly_slow(HOUR))
@pytest.mark.parametrize(
    "moment", ["before it is sent", "while it is sent", "while it is put off", "between steps"]
)
def test_H2_a_clock_that_is_put_back_makes_no_silence(
    world: World, level: int, back: timedelta, moment: str, record_property: Count
) -> None:
    """However far back: what waits is sent within the bounds of a lease and a pause, and the climb goes on."""
    world.fresh(level)
    report(world, level)
    first = {row.id for row, _ in world.rows()}
    if moment == "while it is sent":
        kill(world, "after mail has accepted")
    elif moment == "while it is put off":
        world.service.answer = world.gateway.answer = Answer.TROUBLE
        for _ in range(6):
            world.round()
            world.clock.now += LONGEST_PAUSE / 6
        world.round()
        world.service.answer = world.gateway.answer = Answer.ACCEPT
    elif moment == "between steps":
        world.round()
        world.clock.now += STEPS[level][1] * MINUTE - MINUTE
    world.clock.now -= back
    put_back_at = world.clock.now
    for passed in (0 * SECOND, LEASE, LEASE + SKEW, LONGEST_PAUSE + SKEW, LONGEST_PAUSE + 2 * SKEW):
        world.clock.now = put_back_at + passed
        world.round()
    assert world.tally().keys() >= first, "what was written before has been sent"
    # A step comes no later than it would have, by more than a jump that is too small to be known as one.
    world.clock.now = put_back_at + timedelta(minutes=STEPS[level][1]) + 2 * MINUTE
    if level == 3 and back > 2 * HOUR:
        world.clock.now = START[3] + 26 * HOUR  # the practice was shut at the hour that it has become
    world.round()
    world.round()
    assert len(steps_of(world)) > 1, "the climb goes on"
    assert all_arrived(world)
    record_property("clocks", 1)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("ahead", mostly_slow(26 * HOUR))
def test_H2_a_clock_that_is_put_forward_loses_no_step(
    world: World, level: int, ahead: timedelta, record_property: Count
) -> None:
    world.fresh(level)
    report(world, level)
    world.clock.now += ahead
    world.round()
    world.clock.now += timedelta(minutes=STEPS[level][-1]) * (1 if level > 3 else 12)
    world.round()
    world.round()
    assert steps_of(world)[:3] == [0, 1, 2][: len(steps_of(world))]
    assert len(steps_of(world)) >= 2
    assert all_arrived(world)
    record_property("clocks", 1)


DAYS = {"forward": datetime(2026, 3, 29, tzinfo=UTC), "back": datetime(2026, 10, 25, tzinfo=UTC)}
"""The Sundays on which clocks in London change at 01:00 UTC (tz database, Europe/London)."""


@pytest.mark.slow
@pytest.mark.parametrize("change", DAYS)
@pytest.mark.parametrize(("level", "before"), [(4, 1), (4, 14), (4, 29), (5, 1), (5, 4), (5, 9)])
def test_H13_urgent_steps_are_real_minutes_over_a_clock_change(
    world: World, change: str, level: int, before: int, record_property: Count
) -> None:
    world.fresh(level)
    world.clock.now = raised = DAYS[change] + HOUR - before * MINUTE
    report(world, level)
    for number, minutes in enumerate(STEPS[level]):
        if minutes:
            world.clock.now = raised + minutes * MINUTE - SECOND
            world.round()
            assert steps_of(world) == list(range(number))
        world.clock.now = raised + minutes * MINUTE
        world.round()
        assert steps_of(world) == list(range(number + 1))
    assert all_arrived(world)
    record_property("clocks", 1)


@pytest.mark.parametrize(("change", "night_hours"), [("forward", 10.5), ("back", 12.5)])
def test_H13_open_minutes_of_a_report_at_level_3_know_the_short_and_the_long_night(
    change: str, night_hours: float
) -> None:
    """Open from 08:30 to 21:00 every day; a report at 20:00 on Saturday has its 120 minutes at 09:30 on Sunday."""
    days = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    hours = OpeningHours.from_plain({day: [["08:30", "21:00"]] for day in days})
    plan = ClimbPlan.usual(["asta", "pavel"], 60, hours, zone(ZONE))
    raised = datetime.combine(DAYS[change].date() - timedelta(days=1), datetime.min.time(), zone(ZONE)) + 20 * HOUR
    raised = raised.astimezone(UTC)
    due = raised + HOUR + timedelta(hours=night_hours) + HOUR
    done = [DoneStep(0, raised)]
    assert due_steps(AlertTimes(3, raised), done, plan, due - SECOND) == ()
    assert [step.number for step in due_steps(AlertTimes(3, raised), done, plan, due)] == [1]


def plan_of(people: Sequence[str] = ("asta", "pavel")) -> ClimbPlan:
    return ClimbPlan.usual(people, 60, OpeningHours(), zone(ZONE))


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("back", [3 * MINUTE, HOUR, 400 * HOUR])
def test_H2_after_a_clock_was_put_back_everybody_is_told_at_once_and_not_at_every_tick(
    level: int, back: timedelta
) -> None:
    raised, plan = START[level], plan_of()
    alert, now = AlertTimes(level, raised), raised - back
    (step,) = due_steps(alert, [DoneStep(0, raised)], plan, now)
    assert (step.number, step.person_ids) == (1, ("asta", "pavel"))
    told = [DoneStep(0, raised), DoneStep(1, now)]
    again = timedelta(minutes=LADDERS[level].again_after_minutes)
    assert due_steps(alert, told, plan, now + again - SECOND) == () or back <= again
    if back > again + 3 * MINUTE:
        (step,) = due_steps(alert, told, plan, now + again)
        assert (step.number, step.person_ids) == (2, ("asta", "pavel"))
    assert family_told(alert, plan, now) == "nobody_took_it"


def test_H2_two_clocks_a_little_apart_are_no_clock_put_back() -> None:
    raised, plan = START[5], plan_of()
    assert due_steps(AlertTimes(5, raised), [DoneStep(0, raised)], plan, raised - MINUTE) == ()
    assert family_told(AlertTimes(5, raised), plan, raised - MINUTE) is None
