"""H2, an alert nobody sees: whom the practice's plan tells at which hour, its own minutes, who is on duty."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.escalation.climb import (
    LADDERS,
    STEP_BOUNDS,
    AlertTimes,
    ClimbPlan,
    DoneStep,
    FamilyNews,
    Planned,
    When,
    due_steps,
    family_told,
    ladders_from,
    within_bounds,
)
from companion.escalation.duty import Duty, OpeningHours, Rota

BERLIN = ZoneInfo("Europe/Berlin")
HOURS = OpeningHours.from_plain({day: [["08:00", "18:00"]] for day in ("mon", "tue", "wed", "thu", "fri")})
ON_CALL = OpeningHours.from_plain(
    {day: [["00:00", "08:00"], ["18:00", "24:00"]] for day in ("mon", "tue", "wed", "thu", "fri")}
    | {"sat": [["09:00", "12:00"]]}
)
ALL = ("anna", "ben", "cem", "dora")
PLANNED = (
    Planned("ben", When.OPEN_HOURS, "push"),
    Planned("cem", When.ON_CALL, "webhook"),
    Planned("ben", When.ON_CALL),
)
PLAN = ClimbPlan(("ben", "cem", "anna", "dora"), 60, HOURS, BERLIN, LADDERS, PLANNED, ON_CALL)


def wall(text: str, fold: int = 0) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN, fold=fold).astimezone(UTC)


OPEN, EVENING, SUNDAY = "2026-10-05 10:00", "2026-10-05 21:00", "2026-10-04 10:00"

# level, hour at the practice, then for each step who is told and by which way
STEPS = [
    (5, OPEN, [(("ben",), "push"), (("cem",), "webhook"), (PLAN.people, "any")]),
    (4, OPEN, [(("ben",), "push"), (("cem",), "webhook"), (PLAN.people, "any")]),
    (5, EVENING, [(("cem",), "webhook"), (("ben",), "any"), (PLAN.people, "any")]),
    (5, SUNDAY, [(PLAN.people, "any")] * 3),  # nobody of the plan is on duty: nothing waits
    (4, SUNDAY, [(PLAN.people, "any")] * 3),
    (3, OPEN, [(("ben",), "push"), (PLAN.people, "any")]),
    (3, EVENING, [(("cem",), "webhook"), (PLAN.people, "any")]),
    (3, SUNDAY, [(("ben",), "push"), (PLAN.people, "any")]),  # not urgent: the first of the plan finds it
]


@pytest.mark.parametrize(("level", "hour", "told"), STEPS)
def test_H2_whoever_is_on_duty_by_the_plan_is_told_first_and_nothing_urgent_waits(
    level: int, hour: str, told: list[tuple[tuple[str, ...], str]]
) -> None:
    steps = [PLAN.step(7 + index, index, level, wall(hour)) for index in range(len(told))]
    assert [(step.person_ids, step.channel) for step in steps] == told
    assert [step.number for step in steps] == [7 + index for index in range(len(told))]


# The hours on call end at 08:00, when the practice opens; on the night of 25 October 02:00 to 03:00 comes twice.
CHANGE = OpeningHours.from_plain({"sun": [["02:00", "03:00"]]})
SPRING = OpeningHours.from_plain({"sun": [["02:30", "04:00"]]})
HOURS_OVER_A_CHANGE = [
    (CHANGE, wall("2026-10-25 02:00"), True),
    (CHANGE, wall("2026-10-25 02:59"), True),
    (CHANGE, wall("2026-10-25 01:59"), False),
    (CHANGE, wall("2026-10-25 03:00"), False),
    (SPRING, wall("2026-03-29 01:59"), False),
    (SPRING, wall("2026-03-29 03:30"), True),  # 02:30 is skipped; as far past the gap is 03:30
    (SPRING, wall("2026-03-29 03:29"), False),
    (SPRING, wall("2026-03-29 03:59"), True),
]


@pytest.mark.parametrize(("on_call", "now", "counts"), HOURS_OVER_A_CHANGE)
def test_H13_hours_on_call_keep_their_clock_over_a_change(
    on_call: OpeningHours, now: datetime, counts: bool
) -> None:
    plan = ClimbPlan(ALL, 60, OpeningHours(), BERLIN, LADDERS, (Planned("dora", When.ON_CALL),), on_call)
    assert plan.step(0, 0, 5, now).person_ids == (("dora",) if counts else ALL)
    assert (Rota(OpeningHours(), on_call, BERLIN).at(now) is Duty.ON_CALL) is counts


def test_H2_a_climb_passes_from_the_hours_to_those_on_call() -> None:
    raised = wall("2026-10-05 17:50")
    alert, done, told = AlertTimes(4, raised), [], []
    for minute in range(31):
        now = raised + timedelta(minutes=minute)
        for step in due_steps(alert, done, PLAN, now):
            done.append(DoneStep(step.number, now))
            told.append((minute, step.person_ids, step.channel))
    assert told == [(0, ("ben",), "push"), (15, ("ben",), "any"), (30, PLAN.people, "any")]


def test_H2_a_practice_that_tells_nobody_says_so_at_once_and_climbs_not() -> None:
    silent = ClimbPlan(ALL, 60, HOURS, BERLIN, LADDERS, tells=False)
    alert = AlertTimes(4, wall(OPEN))
    assert due_steps(alert, [], silent, wall(EVENING)) == ()
    assert family_told(alert, silent, wall(OPEN)) is FamilyNews.ALERTS_OFF
    taken = AlertTimes(4, wall(OPEN), taken_at=wall(OPEN))
    assert family_told(taken, silent, wall(OPEN)) is None
    assert family_told(taken, silent, wall(EVENING)) is FamilyNews.NO_CONTACT_YET


def test_H2_at_the_top_everybody_hears_again_by_every_way() -> None:
    done = [DoneStep(number, wall(OPEN)) for number in range(3)]
    (again,) = due_steps(AlertTimes(5, wall(OPEN)), done, PLAN, wall("2026-10-05 10:30"))
    assert (again.person_ids, again.channel) == (PLAN.people, "any")


# -- the practice's own minutes --------------------------------------------------------------------
MINUTES = [
    # level, what is set, when the steps are due, when the family is told
    (5, [3, 8], (0, 3, 8), 8),
    (5, [10, 20], (0, 10, 20), 10),  # the family never waits longer than usual
    (5, [60, 120], (0, 5, 10), 10),  # an hour at level 5 is not to be had
    (5, [10, 5], (0, 5, 10), 10),
    (5, [5, 5], (0, 5, 10), 10),
    (5, [5], (0, 5, 10), 10),
    (5, [], (0, 5, 10), 10),
    (4, [5, 10], (0, 5, 10), 10),
    (4, [30, 60], (0, 30, 60), 30),
    (4, [31, 60], (0, 15, 30), 30),
    (3, [30], (0, 30), 240),
    (3, [240], (0, 240), 240),
    (3, [241], (0, 120), 240),
]


@pytest.mark.parametrize(("level", "minutes", "after", "family"), MINUTES)
def test_H2_a_practice_sets_its_minutes_within_bounds_and_nothing_else(
    level: int, minutes: list[int], after: tuple[int, ...], family: int
) -> None:
    ladder = ladders_from({str(level): minutes})[level]
    assert ladder.after_minutes == after
    assert ladder.family_told_after_minutes == family
    assert within_bounds(level, minutes) == (after == (0, *minutes))
    assert ladders_from({str(level): minutes}).keys() == LADDERS.keys()


def test_usual_minutes_can_be_set_and_nobody_can_set_an_hour_for_level_5() -> None:
    for level, ladder in LADDERS.items():
        assert within_bounds(level, ladder.after_minutes[1:])
    assert max(high for _, high in STEP_BOUNDS[5]) == 20


# -- the family's word -----------------------------------------------------------------------------
def test_H2_no_call_by_the_familys_word_climbs_at_once() -> None:
    """A report of level 3, taken five minutes before the practice shuts: by its own hours it would wait."""
    raised, taken = wall("2026-10-05 17:00"), wall("2026-10-05 17:55")
    done = [DoneStep(0, raised)]
    quiet = AlertTimes(3, raised, taken_at=taken)
    assert due_steps(quiet, done, PLAN, wall("2026-10-05 19:30")) == ()
    said = AlertTimes(3, raised, taken_at=taken, not_called_at=wall("2026-10-05 19:00"))
    assert due_steps(said, done, PLAN, wall("2026-10-05 18:59")) == ()
    (step,) = due_steps(said, done, PLAN, wall("2026-10-05 19:00"))
    assert (step.number, step.person_ids) == (1, ("cem",))
    done.append(DoneStep(1, wall("2026-10-05 19:00")))
    assert due_steps(said, done, PLAN, wall("2026-10-05 19:01")) == ()


def test_no_call_said_before_the_time_is_over_changes_nothing() -> None:
    raised, taken = wall("2026-10-05 17:00"), wall("2026-10-05 17:55")
    said = AlertTimes(3, raised, taken_at=taken, not_called_at=wall("2026-10-05 18:54"))
    assert due_steps(said, [DoneStep(0, raised)], PLAN, wall("2026-10-05 19:30")) == ()


def test_no_call_said_of_somebody_who_had_it_before_changes_nothing() -> None:
    raised, taken = wall("2026-10-05 08:00"), wall("2026-10-05 17:55")
    said = AlertTimes(3, raised, taken_at=taken, not_called_at=wall("2026-10-05 12:00"))
    assert due_steps(said, [DoneStep(0, raised)], PLAN, wall("2026-10-05 19:30")) == ()


# -- who is on duty --------------------------------------------------------------------------------
ROTA = Rota(HOURS, ON_CALL, BERLIN)
DUTIES = [
    ("2026-10-05 10:00", Duty.OPEN, "2026-10-05 10:00", "2026-10-10 00:00"),
    ("2026-10-05 18:00", Duty.ON_CALL, "2026-10-05 18:00", "2026-10-10 00:00"),
    ("2026-10-09 23:59", Duty.ON_CALL, "2026-10-09 23:59", "2026-10-10 00:00"),
    ("2026-10-10 00:00", Duty.NOBODY, "2026-10-10 09:00", None),
    ("2026-10-10 11:00", Duty.ON_CALL, "2026-10-10 11:00", "2026-10-10 12:00"),
    ("2026-10-10 12:00", Duty.NOBODY, "2026-10-12 00:00", None),
]


@pytest.mark.parametrize(("now", "duty", "following", "until"), DUTIES)
def test_on_duty_is_open_or_on_call(now: str, duty: Duty, following: str, until: str | None) -> None:
    assert ROTA.at(wall(now)) is duty
    assert ROTA.next(wall(now)) == wall(following)
    assert ROTA.until(wall(now)) == (until and wall(until))


def test_nobody_is_ever_on_duty_without_hours() -> None:
    assert Rota(OpeningHours(), OpeningHours(), BERLIN).next(wall(OPEN)) is None


@settings(max_examples=300, derandomize=True, deadline=None)
@given(
    st.sampled_from([3, 4, 5]),
    st.sampled_from([wall("2026-03-27 00:00"), wall("2026-10-23 00:00")]),
    st.integers(0, 7 * 24 * 60),
    st.lists(
        st.builds(Planned, st.sampled_from(ALL), st.sampled_from(list(When)), st.sampled_from(["any", "push"]))
    ),
)
def test_H2_whatever_the_plan_and_the_hour_someone_is_told_at_once_and_everybody_in_the_end(
    level: int, week: datetime, minute: int, planned: list[Planned]
) -> None:
    raised = week + timedelta(minutes=minute)
    plan = ClimbPlan(ALL, 60, HOURS, BERLIN, LADDERS, tuple(planned), ON_CALL)
    (first,) = due_steps(AlertTimes(level, raised), [], plan, raised)
    assert first.person_ids
    steps = due_steps(AlertTimes(level, raised), [], plan, raised + timedelta(days=7))
    assert (set(steps[-1].person_ids), steps[-1].channel) == (set(ALL), "any")
