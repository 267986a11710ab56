"""Opening hours: who is there now, when somebody is there next, how long somebody was there."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.common.errors import InvalidInput
from companion.escalation.duty import OpeningHours, next_closing, next_opening, on_duty, open_minutes

BERLIN = ZoneInfo("Europe/Berlin")
HOURS = OpeningHours.from_plain(
    {
        **{day: [["08:30", "12:00"], ["13:00", "18:00"]] for day in ("mon", "tue", "thu", "fri")},
        "sat": [["20:00", "24:00"]],
        "sun": [["00:00", "02:30"]],
    },
    ["2026-12-25"],
)
ALWAYS = OpeningHours.from_plain(
    {day: [["00:00", "24:00"]] for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")}
)


def wall(text: str, fold: int = 0) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN, fold=fold).astimezone(UTC)


NOW_AND_NEXT = [  # 5 October 2026 is a Monday
    ("2026-10-05 08:29", False, "2026-10-05 08:30"),
    ("2026-10-05 08:30", True, "2026-10-05 08:30"),
    ("2026-10-05 12:00", False, "2026-10-05 13:00"),
    ("2026-10-05 17:59", True, "2026-10-05 17:59"),
    ("2026-10-05 18:00", False, "2026-10-06 08:30"),
    ("2026-10-06 18:00", False, "2026-10-08 08:30"),  # Wednesday is closed
    ("2026-10-09 18:00", False, "2026-10-10 20:00"),
    ("2026-10-10 23:59", True, "2026-10-10 23:59"),  # across midnight from Saturday into Sunday
    ("2026-10-11 00:00", True, "2026-10-11 00:00"),
    ("2026-10-11 02:30", False, "2026-10-12 08:30"),
    ("2026-12-24 18:00", False, "2026-12-26 20:00"),  # the closed day falls on a Friday
    ("2026-12-25 10:00", False, "2026-12-26 20:00"),
]


@pytest.mark.parametrize(("now", "open_now", "following"), NOW_AND_NEXT)
def test_on_duty_and_next_opening(now: str, open_now: bool, following: str) -> None:
    assert on_duty(HOURS, BERLIN, wall(now)) is open_now
    assert next_opening(HOURS, BERLIN, wall(now)) == wall(following)


def test_the_practices_clock_counts_not_the_familys() -> None:
    noon_in_singapore = datetime(2026, 10, 5, 12, tzinfo=ZoneInfo("Asia/Singapore"))  # 06:00 in Berlin
    assert not on_duty(HOURS, BERLIN, noon_in_singapore)
    assert next_opening(HOURS, BERLIN, noon_in_singapore) == wall("2026-10-05 08:30")


CLOCK_CHANGES = [  # Europe/Berlin 2026: 29 March 02:00 -> 03:00, 25 October 03:00 -> 02:00 (IANA tz database)
    ("2026-03-27 18:00", "2026-03-30 08:30", "mon", 61.5),  # a weekend of 47 hours
    ("2026-10-23 18:00", "2026-10-26 08:30", "mon", 63.5),  # a weekend of 49 hours
]


@pytest.mark.parametrize(("closes", "opens", "day", "hours_closed"), CLOCK_CHANGES)
def test_H13_opening_stays_on_the_wall_clock_over_a_clock_change(
    closes: str, opens: str, day: str, hours_closed: float
) -> None:
    hours = OpeningHours.from_plain({"fri": [["08:30", "18:00"]], day: [["08:30", "18:00"]]})
    found = next_opening(hours, BERLIN, wall(closes))
    assert found == wall(opens)
    assert (found - wall(closes)) / timedelta(hours=1) == hours_closed


def test_H13_an_opening_in_the_skipped_hour_moves_past_it() -> None:
    hours = OpeningHours.from_plain({"sun": [["02:30", "05:00"]]})
    opens = next_opening(hours, BERLIN, wall("2026-03-29 01:00"))
    assert opens == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)  # 03:30 in summer time
    assert not on_duty(hours, BERLIN, opens - timedelta(seconds=1))
    assert on_duty(hours, BERLIN, opens)


def test_H13_minutes_of_a_night_shift_are_real_minutes() -> None:
    hours = OpeningHours.from_plain({"sun": [["00:00", "06:00"]]})
    for day, minutes in (("2026-03-29", 300), ("2026-10-25", 420), ("2026-11-01", 360)):
        assert open_minutes(hours, BERLIN, wall(f"{day} 00:00"), wall(f"{day} 12:00")) == minutes


def test_a_practice_that_never_opens_has_no_next_opening() -> None:
    assert next_opening(OpeningHours(), BERLIN, wall("2026-10-05 08:30")) is None
    assert not on_duty(OpeningHours(), BERLIN, wall("2026-10-05 08:30"))
    assert not OpeningHours().ever_open


def test_open_day_and_night() -> None:
    start = wall("2026-03-01 00:00")
    assert open_minutes(ALWAYS, BERLIN, start, start + timedelta(days=60)) == 60 * 24 * 60


# -- until when somebody is there ------------------------------------------------------------------
ON_CALL = OpeningHours.from_plain({"mon": [["18:00", "24:00"]], "tue": [["00:00", "06:00"], ["12:00", "12:30"]]})
NOW_AND_UNTIL = [
    ("2026-10-05 08:29", None),
    ("2026-10-05 08:30", "2026-10-05 12:00"),
    ("2026-10-05 11:59", "2026-10-05 12:00"),  # a break at noon is an end
    ("2026-10-05 12:00", None),
    ("2026-10-05 13:00", "2026-10-06 06:00"),  # on call right after closing, and over midnight
    ("2026-10-05 19:00", "2026-10-06 06:00"),
    ("2026-10-06 06:00", None),
    ("2026-10-06 09:00", "2026-10-06 12:30"),  # on call for half of the break
    ("2026-10-07 10:00", None),  # Wednesday is closed
    ("2026-10-10 21:00", "2026-10-11 02:30"),  # from Saturday into Sunday
    ("2026-12-25 10:00", None),  # a closed day
]


@pytest.mark.parametrize(("now", "until"), NOW_AND_UNTIL)
def test_until_when_somebody_is_on_duty_without_a_break(now: str, until: str | None) -> None:
    assert next_closing((HOURS, ON_CALL), BERLIN, wall(now)) == (until and wall(until))


def test_a_closed_day_is_an_end_and_not_for_who_is_on_call() -> None:
    shut = OpeningHours(ALWAYS.week, frozenset([date(2026, 12, 25)]))
    assert next_closing((shut,), BERLIN, wall("2026-12-24 18:00")) == wall("2026-12-25 00:00")
    christmas = OpeningHours.from_plain({"fri": [["00:00", "20:00"]]})
    assert next_closing((shut, christmas), BERLIN, wall("2026-12-24 18:00")) == wall("2026-12-25 20:00")


def test_a_duty_without_an_end_has_no_closing() -> None:
    assert next_closing((ALWAYS,), BERLIN, wall("2026-10-05 08:30")) is None
    assert next_closing((OpeningHours(), ALWAYS), BERLIN, wall("2026-10-05 08:30")) is None
    assert next_closing((OpeningHours(),), BERLIN, wall("2026-10-05 08:30")) is None


def test_H13_a_duty_ends_on_the_wall_clock_over_a_clock_change() -> None:
    hours = OpeningHours.from_plain({"sat": [["22:00", "24:00"]], "sun": [["00:00", "06:00"]]})
    for evening, real_hours in (("2026-03-28 22:00", 7), ("2026-10-24 22:00", 9), ("2026-10-31 22:00", 8)):
        until = next_closing((hours,), BERLIN, wall(evening))
        assert until is not None
        assert (until - wall(evening)) / timedelta(hours=1) == real_hours


def test_H13_a_duty_that_ends_in_an_hour_that_is_skipped_or_comes_twice() -> None:
    skipped = OpeningHours.from_plain({"sun": [["00:00", "02:30"]]})
    assert next_closing((skipped,), BERLIN, wall("2026-03-29 00:00")) == wall("2026-03-29 03:30")
    assert next_closing((skipped,), BERLIN, wall("2026-10-25 00:00")) == wall("2026-10-25 02:30")
    assert next_closing((skipped,), BERLIN, wall("2026-10-25 02:30", fold=1)) is None


@pytest.mark.parametrize(
    ("start", "end", "minutes"),
    [
        ("2026-10-05 08:00", "2026-10-05 09:00", 30),
        ("2026-10-05 11:30", "2026-10-05 13:30", 60),
        ("2026-10-05 17:00", "2026-10-06 09:00", 90),
        ("2026-10-05 19:00", "2026-10-05 20:00", 0),
        ("2026-12-24 17:00", "2026-12-26 19:00", 60),
        ("2026-10-05 09:00", "2026-10-05 09:00", 0),
    ],
)
def test_open_minutes(start: str, end: str, minutes: float) -> None:
    assert open_minutes(HOURS, BERLIN, wall(start), wall(end)) == minutes


BAD = [
    ({"monday": []}, [], "hours_unknown_day", "monday"),
    ({"mon": "08:30-18:00"}, [], "hours_not_spans", "mon"),
    ({"mon": [["08:30"]]}, [], "hours_not_spans", "mon[0]"),
    ({"mon": [["8:30", "18:00"]]}, [], "hours_not_a_clock", "mon[0]"),
    ({"mon": [["0830Z", "18:00"]]}, [], "hours_not_a_clock", "mon[0]"),
    ({"mon": [["08:30", "25:00"]]}, [], "hours_not_a_clock", "mon[0]"),
    ({"mon": [["24:00", "24:00"]]}, [], "hours_not_a_clock", "mon[0]"),
    ({"mon": [["18:00", "08:30"]]}, [], "hours_end_before_start", "mon[0]"),
    ({"mon": [["08:30", "12:00"], ["11:00", "18:00"]]}, [], "hours_overlap", "mon"),
    ({"mon": [["08:30", "24:00"], ["23:00", "23:30"]]}, [], "hours_overlap", "mon"),
    ({}, ["Christmas"], "hours_not_a_date", "closed[0]"),
    ({}, [7], "hours_not_a_date", "closed[0]"),
]


@pytest.mark.parametrize(("weekly", "closed", "code", "field"), BAD)
def test_wrong_hours_are_named(weekly: dict[str, object], closed: list[object], code: str, field: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        OpeningHours.from_plain(weekly, closed)
    assert [(p.code, p.field) for p in caught.value.problems] == [(code, field)]


@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1), timezones=st.just(UTC)))  # noqa: DTZ001
def test_next_opening_is_open_and_nothing_before_it_is(now: datetime) -> None:
    opens = next_opening(HOURS, BERLIN, now)
    assert opens is not None
    assert on_duty(HOURS, BERLIN, opens)
    assert open_minutes(HOURS, BERLIN, now, opens) == 0
    assert (opens == now) is on_duty(HOURS, BERLIN, now)


@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1), timezones=st.just(UTC)))  # noqa: DTZ001
def test_nobody_is_there_at_the_closing_and_somebody_all_the_time_before_it(now: datetime) -> None:
    closes = next_closing((HOURS, ON_CALL), BERLIN, now)
    there = [on_duty(hours, BERLIN, now) for hours in (HOURS, ON_CALL)]
    assert (closes is not None) is any(there)
    if closes is not None:
        assert closes > now
        assert not any(on_duty(hours, BERLIN, closes) for hours in (HOURS, ON_CALL))
        counted = sum(open_minutes(hours, BERLIN, now, closes) for hours in (HOURS, ON_CALL))
        assert counted * timedelta(minutes=1) == closes - now  # the two never overlap here
